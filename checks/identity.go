package checks

import "strconv"

// identity: is the serial number that a corner's electronics send the one in the setup?
func identity(v *view) []Finding {
	return v.eachCorner(v.identityOf)
}

func (v *view) identityOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	f := Finding{Subject: name}
	if set.Channels[Serial] == None || !set.HasSerial {
		f.Verdict, f.Sentence = Absent, name+" sends no serial number, or the setup gives none to compare it with"
		return f
	}
	l := &v.channels[set.Channels[Serial]].level
	t := &v.timings[v.setup.Channels[set.Channels[Serial]].Message]
	f.Evidence = Evidence{Samples: l.Count}
	if l.Count > 0 {
		f.Evidence.From, f.Evidence.To = t.First, t.Last
	}
	sent, ok := v.serial(i)
	want := strconv.FormatUint(set.Serial, 10)
	switch {
	case l.Count == 0:
		f.Sentence = "the serial number of " + name + " has not come yet"
		f.Next = "Wait some seconds for the serial number of " + name + "; where none comes, see to the check alive of it first."
		return f
	case !ok:
		f.Verdict = Fail
		f.Sentence = name + " sends what is no serial number; the setup says " + want
		f.Next = "Compare the serial channel of " + name + " in the setup and the DBC with the amplifier."
		return f
	}
	said := name + " sends the serial number " + strconv.FormatUint(sent, 10)
	if sent == set.Serial {
		f.Verdict = Pass
		f.Sentence = said + ", as the setup says"
		return f
	}
	f.Verdict = Fail
	f.Sentence = said + "; the setup says " + want
	f.Next = "Read the number on the transducer at " + name + ": where it is " + want + ", look at its plug; where it is another, correct the setup."
	for k := range v.setup.Corners {
		if c := &v.setup.Corners[k]; k != i && c.HasSerial && c.Serial == sent {
			f.Sentence = said + ", which the setup gives to " + c.Name
			f.Next = "Compare the plugs of " + name + " and " + c.Name + " with their labels at the amplifier, and the transducers with the setup."
			break
		}
	}
	return f
}
