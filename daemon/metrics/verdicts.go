package metrics

import (
	"runtime"
	"slices"

	"plumbline/checks"
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
