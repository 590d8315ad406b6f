package runlog

// The words loggers and spreadsheets write where there is no number. Compared
// without regard to case.
var missingWords = map[string]bool{
	"nan": true, "-nan": true, "+nan": true, "nan(ind)": true, "-nan(ind)": true,
	"1.#qnan": true, "-1.#qnan": true, "1.#ind": true, "-1.#ind": true, "1.#inf": true, "-1.#inf": true,
	"inf": true, "+inf": true, "-inf": true, "infinity": true, "+infinity": true, "-infinity": true,
	"null": true, "nil": true, "none": true, "n/a": true, "na": true, "#n/a": true,
	"-": true, "--": true, "---": true, "----": true, "*": true, "**": true, "***": true, "?": true,
	"missing": true, "invalid": true, "no data": true, "#value!": true, "#div/0!": true, "#num!": true,
}

// The words for the two states of a yes-no channel.
var truthWords = map[string]float64{
	"true": 1, "on": 1, "yes": 1,
	"false": 0, "off": 0, "no": 0,
}

// lower puts a short word in lower case into the given space, so that looking
// it up costs no allocation; "" where it is longer than any known word.
func lower(word []byte, space *[16]byte) []byte {
	if len(word) > len(space) {
		return nil
	}
	for i, ch := range word {
		if 'A' <= ch && ch <= 'Z' {
			ch += 'a' - 'A'
		}
		space[i] = ch
	}
	return space[:len(word)]
}

func isMissing(word []byte) bool {
	var space [16]byte
	return missingWords[string(lower(word, &space))]
}

func truth(word []byte) (v float64, ok bool) {
	var space [16]byte
	v, ok = truthWords[string(lower(word, &space))]
	return v, ok
}
