package metrics

import (
	"runtime"
	"slices"

	"plumbline/checks"
	"plumbline/daemon"
)

func build(k *sink) {
	k.put(1, k.program.name, k.program.version, k.program.revision, runtime.Version())
}

func setupInfo(k *sink) {
	if k.snapshot != nil {
		s := &k.snapshot.Result.Setup
		k.put(1, s.Vehicle, s.File, s.SHA256)
	}
}

func snapshotTime(k *sink) {
	if k.snapshot != nil {
		k.put(seconds(k.snapshot.At))
	}
}

func judging(k *sink) {
	if k.snapshot != nil && k.snapshot.Flow.Look.Count > 0 {
		k.count(&k.snapshot.Flow.Look)
	}
}

// allVerdicts are the states of a verdict, with the words that results use.
func allVerdicts() [4]checks.Verdict {
	return [...]checks.Verdict{checks.Absent, checks.Fail, checks.Inconclusive, checks.Pass}
}

func overall(k *sink) {
	if k.snapshot == nil {
		return
	}
	for _, v := range allVerdicts() {
		k.flag(k.snapshot.Result.Verdict == v, v.String())
	}
}

func verdicts(k *sink) {
	for i := range k.findings {
		f := &k.findings[i]
		for _, v := range allVerdicts() {
			k.flag(f.Verdict == v, f.Check, f.Subject, f.Channel, v.String())
		}
	}
}

func open(k *sink) {
	if k.snapshot == nil {
		return
	}
	n := 0
	for i := range k.findings {
		if f := &k.findings[i]; f.Required && f.Verdict == checks.Inconclusive {
			n++
		}
	}
	k.put(float64(n))
}

// failed puts what tells of each finding that ever failed when that was.
func failed(value func(*daemon.Failed) float64) func(*sink) {
	return func(k *sink) {
		for i := range k.findings {
			if f := &k.findings[i]; f.Failed != nil {
				k.put(value(f.Failed), f.Check, f.Subject, f.Channel)
			}
		}
	}
}

// drive returns the newest drive; nil: there was none.
func (v *view) drive() *daemon.Drive {
	if v.snapshot == nil || len(v.snapshot.Result.Drives) == 0 {
		return nil
	}
	return &v.snapshot.Result.Drives[len(v.snapshot.Result.Drives)-1]
}

func ended(k *sink) {
	if k.snapshot != nil {
		k.flag(k.snapshot.Ended)
	}
}

func driveActive(k *sink) {
	if k.snapshot != nil {
		d := k.drive()
		k.flag(d != nil && d.Now)
	}
}

func driveStart(k *sink) {
	if d := k.drive(); d != nil {
		k.put(seconds(int64(d.From)))
	}
}

func driveEnd(k *sink) {
	if d := k.drive(); d != nil {
		k.put(seconds(int64(d.To)))
	}
}

func causes(k *sink) {
	if k.snapshot == nil {
		return
	}
	for i := range k.snapshot.Result.Causes {
		k.put(1, k.snapshot.Result.Causes[i].ID)
	}
}

// found puts the value, or its uncertainty, of the findings of a check that have a unit.
func found(check, unit string, labels int, uncertainty bool) func(*sink) {
	return func(k *sink) {
		for i := range k.findings {
			f := &k.findings[i]
			if f.Check != check || f.Unit != unit || !k.isCorner(f.Subject) || (f.Channel != "") != (labels == 2) {
				continue
			}
			v := f.Value
			if uncertainty {
				v = f.Uncertainty
			}
			switch {
			case v == nil:
			case labels == 2:
				k.put(*v, f.Subject, f.Channel)
			default:
				k.put(*v, f.Subject)
			}
		}
	}
}

// isCorner tells a corner from an optical sensor, a source and the vehicle.
func (v *view) isCorner(subject string) bool {
	return slices.ContainsFunc(v.setup.Corners, func(c checks.Corner) bool { return c.Name == subject })
}
