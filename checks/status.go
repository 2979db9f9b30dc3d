package checks

// status: does the electronics of each corner say that it is well? The setup lists the values that mean
// well, 0 where it lists none. What it says only while it is switched on is forgiven.
func status(v *view) []Finding {
	return v.eachCorner(v.statusOf)
}

func (v *view) statusOf(i int) Finding {
	f, w, t, ok := v.watched(i, Status)
	if !ok {
		return f
	}
	name := f.Subject
	switch {
	case w.Out == 0:
		f.Verdict = Pass
		f.Sentence = "the status of " + name + " was good throughout"
	case !w.out && w.To-t.First <= startUpNs && w.at-w.To >= startUpNs:
		f.Verdict = Pass
		f.Sentence = "the status of " + name + " was " + v.meaning(i, w.Value) + " at first, and has been good since " + v.since(w.To)
	default:
		f.Verdict = Fail
		f.Sentence = "the status of " + name + " was " + v.meaning(i, w.Value) + v.when(w)
		f.Next = "Look up in the amplifier's manual what status " + v.meaning(i, w.Value) + " means, and see to " + name + "; if that status is in order, list it under good in the setup."
	}
	return f
}

// meaning writes a status with its text, where the description names it.
func (v *view) meaning(i int, value float64) string {
	ch := &v.setup.Channels[v.corners[i].setup.Channels[Status]]
	w := Watch{step: ch.Step}
	for _, n := range ch.Named {
		if w.is(value, n.Value) {
			return num(value, 0) + " (" + n.Text + ")"
		}
	}
	return num(value, 0)
}
