package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The ways in which a program like this can hurt the people who trust it, each with what holds
// it shut: a test of this house by its name, or a line of a script ("in.txtar: words of the
// line"). What is left of a way, and why, is written beside it.
var hurts = []struct {
	no     int
	how    string
	closed []string
	left   string
}{
	{1, "a run that did nothing passes every always and every least", []string{
		"event-day.txtar: wing back to high downforce (last on 58)", "event-day.txtar: NOT PROVEN ON 59", "TestItemsAgreeWithTheModel", "TestSweepOverLogs",
	}, ""},
	{2, "a trigger near the end of the log, or none, answered at once", []string{"TestSignalTemporalLogic", "TestKernelsAgreeWithLoops", "TestBundledPacksAreWhole"}, ""},
	{3, "a dead sensor with a sane value", []string{"TestTakenAway", "TestFlatLine", "TestPairApart", "TestEveryPlantedFaultAndNoOther", "TestSweepOverLogs"}, "a value frozen where channels.yaml does not say what it moves with, and one that is noise or late: testdata/sensor-health.txt lists what those can hide"},
	{4, "a value, initials, deviation or baseline outlive the part or joint", []string{
		"TestWhatWorkOpens", "TestChangesMakeValuesVoid", "TestInitialsEndWhenTheJointIsOpened", "TestDeviationEndsWithTheWork", "TestDeviation", "job.txtar: measured.wing.closes_on.brake not known",
	}, ""},
	{5, "unknown typed over a fail", []string{"TestWithdrawnFailStays", "TestUnknownWithdrawsNothingQuietly", "TestNothingTakenAwayHelps"}, ""},
	{6, "applies hides a no-go item", []string{"TestNoGoItemsDoNotVanish", "TestNothingTakenAwayHelps", "sign.txtar: no car runs without its brakes", "TestLockoutEndsOnlyByAJob"}, ""},
	{7, "fewer rules than the last time", []string{"TestNoGoItemsDoNotVanish", "TestBrokenFolders", "plugins.txtar: it is not bundled and not admitted"}, "what was there before the first run taken in by command is held by nothing"},
	{8, "an accepted warn drifts", []string{"TestDeviation", "sign.txtar: it is not to go beyond 121 °C", "sign.txtar: for 2 runs"}, ""},
	{9, "old data", []string{"TestProvenOnStands", "fresh.txtar: measure it again", "check.txtar: which is not the newest run"}, "that no release is given on a log older than the logger's own counter belongs to the release"},
	{10, "the wrong car, the wrong run, the same run twice", []string{"TestIdentity", "in.txtar: the same run exported again", "in.txtar: another car''s log", "in.txtar: runs 58 to 59 not brought in"}, ""},
	{11, "a clock that is wrong", []string{"TestOrderOfRecordsPlaysNoPart", "TestCorrections", "TestFaultsAndJobs"}, "the logger's and the phone's clock beside the laptop's are shown by the release"},
	{12, "gauge and absolute, psi on a bar sheet, a slipped digit, a decimal comma", []string{
		"TestUnitsAgree", "TestParseRefuses", "TestArithmetic", "note.txtar: is outside 0.5 bar to 3.5 bar", "note.txtar: look at the instrument and its unit again", "weather.txtar: air is said twice",
	}, ""},
	{13, "fourteen warns at every release, signed without looking", []string{"TestRoomForDeviations", "TestOrderByConsequence", "TestLenientStaysOpenWhenAtLeastAWarn", "TestDecideOnTheLimitPasses"}, "that a rule accepted at three events running is to be changed or mended is nowhere listed: it needs the releases"},
	{14, "READY read as GO", []string{"TestVerdict", "check.txtar: PART LOOK, NO VERDICT", "TestCheck"}, "RELEASED is a word of the release alone"},
	{15, "the paper of the last run on the bonnet", nil, "no paper is printed before the release is"},
	{16, "the second initials as a ritual", []string{"sign.txtar: another person looks at it and signs second", "sign.txtar: say what was seen, --saw WORDS", "TestWhatWorkOpens"}, "nobody is asked for a key: whoever holds the laptop can type for two, and the time between both is shown"},
	{17, "the sheet says S15 and the car is S14", []string{"setup.txtar: lines of the setup sheet not", "setup.txtar: Still to be done from S15", "TestDoneOnTheCar", "TestWriteSheetLosesNothing", "setup.txtar: was written with other contents"}, ""},
	{18, "a job opened on the other laptop", []string{"bring.txtar: Brought measured", "TestBring", "TestTwoLaptops", "TestWritersSideBySide"}, "how old the other laptop's newest record is belongs to the release"},
	{19, "the tool breaks three minutes before the start", []string{"TestABrokenCheckHurtsNoOther", "TestStoppedIsNeverPass", "TestBrokenPacks", "TestHostile"}, ""},
	{20, "a limit copied wrong, or practice taken for law", []string{"TestOverrides", "TestWhatAResultCarries", "TestBundledPacksAreWhole"}, "limits that were changed since the last release are printed by the release"},
	{21, "on the limit: a false fail, then disbelief", []string{"TestDecideOnTheLimitPasses", "TestDecideAgreesWithEveryValueInside"}, ""},
	{22, "a rule loosened on the day", []string{"TestOverrides"}, "a house rule that is not no-go may be loosened in limits.yaml, with both files named; the release prints it"},
	{23, "a rule read as something else than it says", []string{"TestParseYAMLRefuses", "TestCELTextRefuses", "TestBrokenPacks"}, ""},
	{24, "it has never been wrong", []string{"check.txtar: Advice only. A pass means only that the rules found nothing"}, "what no rule can see is for people: body pins, belts, floor, on the release sheet"},
	{25, "a protection's sensor waved through as just a sensor", []string{"TestDeviation", "sign.txtar: so it needs a safe state and a substitute", "event-day.txtar: --safe-state"}, ""},
}

// TestWaysToHurt: every way is held shut by tests that are there, or says why it cannot be.
func TestWaysToHurt(t *testing.T) {
	tests := map[string]bool{}
	form := regexp.MustCompile(`(?m)^func (Test\w+)\(t \*testing\.T\)`)
	err := filepath.WalkDir(house, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range form.FindAllStringSubmatch(string(text), -1) {
			tests[m[1]] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range hurts {
		if h.no != i+1 {
			t.Errorf("way %d stands at place %d", h.no, i+1)
		}
		if len(h.closed) == 0 && h.left == "" {
			t.Errorf("way %d, %s: nothing holds it shut, and nothing says why", h.no, h.how)
		}
		for _, name := range h.closed {
			script, words, isScript := strings.Cut(name, ": ")
			if !isScript {
				if !tests[name] {
					t.Errorf("way %d: there is no test %s", h.no, name)
				}
				continue
			}
			text, err := os.ReadFile(filepath.Join(house, "testdata", "scripts", script))
			if err != nil || !strings.Contains(strings.ReplaceAll(string(text), `\`, ""), words) {
				t.Errorf("way %d: %s does not say %q", h.no, script, words)
			}
		}
	}
	if len(hurts) != 25 {
		t.Errorf("%d ways, there are 25", len(hurts))
	}
}
