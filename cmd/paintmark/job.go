package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
)

func jobCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "job [DIR]",
		Short: "work on the car: what it opens, and what it owes before it is closed",
		Long:  "Lists the open jobs, with the joints and proofs each still owes.",
		Example: `paintmark job
paintmark job open wing "slow, 0.36 s" --for SQ-35 --by HW`,
		Args: atMostOneFolder("job"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := readBench(c, folder(args), recordFlags{})
			if err != nil {
				return err
			}
			open := 0
			for _, j := range b.folder.Jobs(b.folder.AsOf) {
				if j.Closed != nil {
					continue
				}
				open++
				body := j.Opened.Body.Get("opened")
				b.sayWrapped(fmt.Sprintf("%s  %s: %s, before the %s, %s", j.No, textOf(body.Get("system")), textOf(body.Get("what")), first(textOf(body.Get("before")), "next run"), first(textOf(body.Get("owner")), j.Opened.By)))
				b.owes(j)
			}
			if open == 0 {
				b.say("No open job.")
			}
			return nil
		},
	}
	c.AddCommand(jobOpen(), jobClose())
	return c
}

// jobFlags are what is said of a job when it is opened.
type jobFlags struct {
	owner, before, safe, opens string
	faults, parts              []string
}

func jobOpen() *cobra.Command {
	var flags recordFlags
	var job jobFlags
	c := &cobra.Command{
		Use:   "open WHERE WORDS [DIR]",
		Short: "work begins on a system or a place of the car",
		Long: `Writes that work begins. WHERE is a place of positions.yaml (wing.actuator) or a system
(wing), which is all its places. What the job opens, makes void and owes is what
positions.yaml says of them: joints lose their initials, values their meaning.
A job that opens less names its joints with --opens; one that touches nothing
says --opens nothing.`,
		Example: `paintmark job open wing "slow, 0.36 s" --for SQ-35 --by HW --owner SQ --make-safe "bottle shut, line vented, flap pinned, by SQ"
paintmark job open sensors "order a spare oil temperature sensor" --before "next event" --opens nothing --by HW`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) < 2 {
				return errors.New("say where and what: paintmark job open WHERE WORDS")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.openJob(words[0], strings.Join(words[1:], " "), job)
		},
	}
	f := c.Flags()
	f.StringVar(&job.owner, "owner", "", "`INITIALS` of who does it, where it is not the one who writes")
	f.StringVar(&job.before, "before", "next run", "to be closed before the \"next run\", \"next event\" or \"next rebuild\" (`WHEN`)")
	f.StringArrayVar(&job.faults, "for", nil, "`FAULT` it is for; may be given again")
	f.StringArrayVar(&job.parts, "part", nil, "`SERIAL` it is about; may be given again")
	f.StringVar(&job.safe, "make-safe", "", "what is made safe first, and by whom (`WORDS`)")
	f.StringVar(&job.opens, "opens", "", "`JOINTS` it opens, with commas between, instead of all that positions.yaml says; or nothing")
	flags.add(c, false)
	return c
}

func (b *bench) openJob(where, what string, job jobFlags) error {
	system, places, err := b.placesOf(where)
	if err != nil {
		return err
	}
	owner := b.flags.by
	if job.owner != "" {
		if owner, err = b.person(job.owner); err != nil {
			return err
		}
	}
	var faults []string
	for _, no := range job.faults {
		fault, err := b.openFault(no)
		if err != nil {
			return err
		}
		faults = append(faults, fault.No)
	}
	for _, serial := range job.parts {
		if _, err := b.part(serial); err != nil {
			return err
		}
	}
	change, err := b.wouldChange(where, places, job.opens)
	if err != nil {
		return err
	}
	no := b.nextNumber()
	opened := flowMap(pair{"what", yamlText(what)}, pair{"system", system}, pair{"before", job.before}, pair{"owner", owner}, pair{"faults", flowList(faults)},
		pair{"opens", flowList(texts(change.Opens))}, pair{"voids", flowList(texts(change.Voids))}, pair{"needs", flowList(texts(change.Owes))},
		pair{"parts", flowList(job.parts)}, pair{"make_safe", yamlText(job.safe)})
	b.draft("jobs", "job "+no+" opened", "job", pair{"no", no}, pair{"opened", opened})
	values := b.values(change.Voids)
	if err := b.write(); err != nil {
		return err
	}
	b.say("Job %s is open, to be closed before the %s.", no, job.before)
	b.changed(change)
	if len(values) > 0 {
		b.sayWrapped("  until now: " + strings.Join(values, ", "))
	}
	if len(change.Opens)+len(change.Voids)+len(change.Owes) == 0 {
		b.say("Opens nothing.")
	}
	b.makeSafe(system, job.safe)
	return nil
}

// systems lists the systems a job can be on.
func (b *bench) systems() []string {
	t, err := b.folder.Set().Document("job")
	if err != nil {
		return nil
	}
	return t.Fields["job"].Fields["opened"].Fields["system"].Enum
}

// placesOf finds the places that a system or a place's name means, and their system.
func (b *bench) placesOf(where string) (system string, places []*car.Position, err error) {
	known := b.systems()
	for i := range b.folder.Positions {
		p := &b.folder.Positions[i]
		if p.Name == where && (p.System != "" || slices.Contains(known, where)) {
			return first(p.System, where), []*car.Position{p}, nil
		}
		if p.System == where {
			places = append(places, p)
		}
		known = append(known, p.Name)
	}
	if len(places) == 0 && !slices.Contains(b.systems(), where) {
		return "", nil, fmt.Errorf("no system or place %q; %s", where, nearestOf(where, "there are", known))
	}
	return where, places, nil
}

// wouldChange is what work on places opens, makes void and owes; opens is what the person
// says of it instead.
func (b *bench) wouldChange(where string, places []*car.Position, opens string) (*car.Position, error) {
	var all car.Position
	for _, p := range places {
		all.Opens, all.Voids, all.Owes = more(all.Opens, p.Opens), more(all.Voids, p.Voids), more(all.Owes, p.Owes)
	}
	switch {
	case opens == "nothing":
		return &car.Position{}, nil
	case opens != "":
		var known []string
		for _, p := range b.folder.Positions {
			known = append(known, texts(p.Opens)...)
		}
		all.Opens = nil
		for joint := range strings.SplitSeq(opens, ",") {
			joint = strings.TrimSpace(joint)
			if !slices.Contains(known, joint) {
				return nil, fmt.Errorf("no joint %q; %s", joint, nearestOf(joint, "positions.yaml has", known))
			}
			all.Opens = append(all.Opens, car.Text{Text: joint})
		}
	case len(places) == 0:
		return nil, fmt.Errorf("positions.yaml has no place of %s, so nobody knows what the job opens; say it: --opens JOINT,JOINT or --opens nothing", where)
	}
	return &all, nil
}

func more(all, words []car.Text) []car.Text {
	for _, w := range words {
		if !slices.ContainsFunc(all, func(t car.Text) bool { return t.Text == w.Text }) {
			all = append(all, w)
		}
	}
	return all
}

func texts(words []car.Text) []string {
	var out []string
	for _, w := range words {
		out = append(out, w.Text)
	}
	return out
}

// values lists what is known now of values that are about to become void.
func (b *bench) values(paths []car.Text) []string {
	roots := b.folder.Roots(b.when)
	var out []string
	var walk func(at string, v *schema.Value)
	walk = func(at string, v *schema.Value) {
		switch {
		case v.Unknown:
		case v.Fields["value"] != nil:
			walk(at, v.Fields["value"])
		case len(v.Keys) > 0:
			for _, k := range v.Keys {
				walk(at+"."+k, v.Fields[k])
			}
		case v.Text != "":
			out = append(out, strings.TrimPrefix(at, "measured.")+" "+v.Text)
		}
	}
	for _, p := range paths {
		root, path, _ := strings.Cut(p.Text, ".")
		if r := roots[root]; r != nil {
			if v := r.Get(path); v != nil {
				walk(p.Text, v)
			}
		}
	}
	return out
}

// makeSafe says the usual cautions of a system, and that nobody has said it is safe yet.
func (b *bench) makeSafe(system, safe string) {
	hazards := readiness.Hazards(b.dir, system)
	if len(hazards) == 0 {
		return
	}
	b.say("Make safe first:")
	for _, h := range hazards {
		b.sayWrapped("  " + h)
	}
	if safe == "" {
		b.say("Nobody has written yet what was made safe, and by whom (--make-safe).")
	}
}

// jobClosed are what is said of a job when it is closed.
type jobClosed struct {
	proofs                       []string
	leftOff                      string
	complete, toolsBack, lockout bool
}

func jobClose() *cobra.Command {
	var flags recordFlags
	var closed jobClosed
	c := &cobra.Command{
		Use:   "close NUMBER WORDS [DIR]",
		Short: "work is done, and proven",
		Long: `Writes that a job is done. It wants every proof that the job and the parts fitted in it
owe, two people's initials on every joint they opened, and the car whole again. Its
faults are then cleared.`,
		Example: `paintmark job close HW-36 "exhaust silencer new" --proof wing-five-cycles,wing-fail-safe-proof --complete --by SQ`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) < 2 {
				return errors.New("say which job and what was done: paintmark job close NUMBER WORDS")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.closeJob(words[0], strings.Join(words[1:], " "), closed)
		},
	}
	f := c.Flags()
	f.StringSliceVar(&closed.proofs, "proof", nil, "`PROOFS` that were shown, with commas between")
	f.BoolVar(&closed.complete, "complete", false, "nothing is left off the car, and the tools are counted back")
	f.StringVar(&closed.leftOff, "left-off", "", "what is left off the car (`WORDS`)")
	f.BoolVar(&closed.toolsBack, "tools-back", false, "the tools are counted back")
	f.BoolVar(&closed.lockout, "ends-lockout", false, "the system is back in use")
	flags.add(c, false)
	return c
}

func (b *bench) closeJob(no, did string, closed jobClosed) error {
	job, err := b.openJobOf(no)
	if err != nil {
		return err
	}
	if err := b.mayClose(job, &closed); err != nil {
		return err
	}
	system := textOf(job.Opened.Body.Get("opened.system"))
	locked := b.folder.LockedOut(b.when)[system]
	if closed.lockout && locked == nil {
		return fmt.Errorf("%s is not locked out; leave --ends-lockout away", system)
	}
	ends := ""
	if closed.lockout {
		ends = "true"
	}
	b.draft("jobs", "job "+job.No+" closed", "job", pair{"no", job.No}, pair{"closed", flowMap(
		pair{"did", yamlText(did)}, pair{"left_off", yamlText(first(closed.leftOff, "nothing"))}, pair{"tools_back", "true"},
		pair{"proofs", flowList(closed.proofs)}, pair{"ends_lockout", ends})})
	var cleared []string
	for _, f := range b.folder.Faults(b.folder.AsOf) {
		if f.Cleared == nil && f.Job == job.No {
			cleared = append(cleared, f.No)
		}
	}
	if err := b.write(); err != nil {
		return err
	}
	b.sayWrapped(fmt.Sprintf("Job %s is closed: %s.", job.No, textOf(job.Opened.Body.Get("opened.what"))))
	if len(cleared) > 0 {
		b.say("Clears fault %s.", strings.Join(cleared, ", "))
	}
	if closed.leftOff != "" {
		b.say("Left off the car: %s.", closed.leftOff)
	}
	switch {
	case closed.lockout:
		b.say("The %s is back in use.", system)
	case locked != nil:
		b.say("The %s stays locked out.", system)
	}
	return nil
}

// openJobOf finds a job that is not closed.
func (b *bench) openJobOf(no string) (*car.Job, error) {
	list := b.folder.Jobs(b.folder.AsOf)
	var open []string
	for _, j := range list {
		if j.Closed == nil {
			open = append(open, j.No)
		}
	}
	i := slices.IndexFunc(list, func(j *car.Job) bool { return strings.EqualFold(j.No, no) })
	switch {
	case i < 0 && len(open) == 0:
		return nil, fmt.Errorf("no job %s; none is open", no)
	case i < 0:
		return nil, fmt.Errorf("no job %s; %s", no, nearestOf(no, "open are", open))
	case list[i].Closed != nil:
		return nil, fmt.Errorf("job %s was closed already (%s); open a new one for new work", list[i].No, list[i].Closed.File)
	}
	return list[i], nil
}

// mayClose says what a job still lacks.
func (b *bench) mayClose(job *car.Job, closed *jobClosed) error {
	var joints []string
	for _, j := range b.folder.JobJoints(job, b.when) {
		joints = append(joints, j.Joint+" ("+j.Lacks()+")")
	}
	owed := b.folder.JobProofs(job, b.when)
	for i, p := range closed.proofs {
		closed.proofs[i] = strings.TrimSpace(p)
		if !slices.Contains(owed, closed.proofs[i]) {
			return fmt.Errorf("job %s owes no proof %q; %s", job.No, closed.proofs[i], nearestOf(closed.proofs[i], "it owes", owed))
		}
	}
	missing := slices.DeleteFunc(owed, func(p string) bool { return slices.Contains(closed.proofs, p) })
	switch {
	case len(joints) > 0:
		return fmt.Errorf("job %s is not closed: initials are missing on %s; paintmark sign, each joint by its two people", job.No, strings.Join(joints, ", "))
	case len(missing) > 0:
		return fmt.Errorf("job %s is not closed: it owes %s; show each one, then say so: --proof %s", job.No, strings.Join(missing, ", "), strings.Join(append(closed.proofs, missing...), ","))
	case !closed.complete && closed.leftOff == "":
		return fmt.Errorf("job %s is not closed: is the car whole? say --complete if nothing is left off and the tools are counted back, else --left-off WORDS", job.No)
	case !closed.complete && !closed.toolsBack:
		return fmt.Errorf("job %s is not closed: count the tools back and say --tools-back", job.No)
	case closed.complete && closed.leftOff != "":
		return fmt.Errorf("job %s is not closed: either nothing is left off (--complete) or %s is", job.No, closed.leftOff)
	}
	return nil
}

// owes lists what an open job still owes.
func (b *bench) owes(job *car.Job) {
	var joints []string
	for _, j := range b.folder.JobJoints(job, b.folder.AsOf) {
		joints = append(joints, j.Joint+" ("+j.Lacks()+")")
	}
	if len(joints) > 0 {
		b.sayWrapped("  initials: " + strings.Join(joints, ", "))
	}
	if owed := b.folder.JobProofs(job, b.folder.AsOf); len(owed) > 0 {
		b.sayWrapped("  proofs: " + strings.Join(owed, ", "))
	}
}
