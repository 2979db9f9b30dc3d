package report

import "plumbline/checks"

// catalogue is every sentence of the frame of a report, in one language. A % is a
// format of package fmt.
type catalogue struct {
	Code    string // of the language, for the browser
	Decimal string // decimal sign

	Title, Report, Page, Of string // on each page
	End                     string // the end mark

	Identification, Number, Vehicle, Item, Laboratory, Place, Customer, Tested, Issued, Performed, Authorised, Conditions string
	Program, Method, MethodText, Amends, Signature, UTC                                                                   string

	Verdict                          map[checks.Verdict]string // in tables
	Overall                          map[checks.Verdict]string // of the whole test: what the word means
	Failed, StillOpen, OpenConfirmed string
	Unusable, UnusableEnd            string

	Next, Causes, Explains, Failures, FailuresExplained, NoFailure, Open, Overview string

	ResultsNote, Check, Value, Unit, Limit, Samples, Turns, Seconds, Word string
	Corner, Axle, Left, Right, Others                                     string
	Groups                                                                map[checks.Group]string

	Plane, PlaneNote, Enlarged, EnlargedNote, Components, ComponentsNote, NoTurn, NoZero, NoFit, Circle string

	Confirmations, ConfirmationsNote, Confirmed, Range, From, Most, Initials, Time, State, Reading, Given, NotGiven, NotPossible, Outside string
	NoConfirmations                                                                                                                       string

	Deviations, NoDeviations, Step, Reason                        string
	NotTested, NotTestedNote, NotJudged, NotFitted, Why, InTables string
	AllTested                                                     string
	Rule                                                          string
	RuleText                                                      []string
	Cautions                                                      string
	CautionText                                                   []string
	Setup, Files, Kind, Name, Recording, SetupFile, NoSum         string
	Serial, SerialSent, Forces, Counts, Bolts, Mass               string
	Overhang, Load, Tyre, Rotating, Fixed                         string
	Remarks, Frames, Statements                                   string
	StatementText                                                 []string
	Embedded                                                      string
}

func catalogueOf(l Language) catalogue {
	if l == German {
		return german()
	}
	return english()
}

func english() catalogue {
	return catalogue{
		Code: "en", Decimal: ".",
		Title: "Function test of wheel force sensors", Report: "Report", Page: "page", Of: "of", End: "End of report",
		Identification: "Identification", Number: "Report number", Vehicle: "Vehicle", Item: "Item, its number and condition", Laboratory: "Test laboratory, address",
		Place: "Place of the test", Customer: "Customer", Tested: "Date of the test", Issued: "Date of issue", Performed: "Performed by",
		Authorised: "Authorised by", Conditions: "Ambient conditions", Program: "Program",
		Method:     "Method",
		MethodText: "Function test from the signals of the sensors: vehicle lifted, each wheel turned by hand forward and back, then lowered, at rest and rolled.",
		Amends:     "Replaces report", Signature: "Name, date, signature", UTC: "UTC",

		Verdict: map[checks.Verdict]string{checks.Pass: "pass", checks.Fail: "FAIL", checks.Inconclusive: "inconclusive", checks.Absent: "absent"},
		Overall: map[checks.Verdict]string{
			checks.Pass:         "Every check that the test requires and that applies to this setup has passed.",
			checks.Fail:         "At least one check has failed.",
			checks.Inconclusive: "No check has failed, but not all that the test requires could be judged.",
			checks.Absent:       "Nothing could be judged.",
		},
		Failed: "failed: %d", StillOpen: "required and not judged: %d", OpenConfirmed: "confirmations open: %d",
		Unusable: "The recording could not be judged.", UnusableEnd: "The recording could not be judged to its end.",

		Next: "Next", Causes: "Causes", Explains: "Explains", Failures: "Failures", NoFailure: "No check has failed.",
		FailuresExplained: "Failures that the causes above explain, and that stand in the tables: %d.", Open: "Required and not judged", Overview: "Overview",

		ResultsNote: "Value ± U: expanded uncertainty, coverage probability about 95 %. Signs: zero is what the channel reads without load. Time: seconds from the start of the recording.",
		Check:       "Check", Value: "Value ± U (95 %)", Unit: "Unit", Limit: "Limit", Samples: "Samples", Turns: "Turns", Seconds: "Time, s", Word: "Verdict",
		Corner: "Corner", Axle: "axle %d", Left: "left", Right: "right", Others: "Sources, optics and vehicle",
		Groups: map[checks.Group]string{
			checks.Connection: "connection", checks.ZeroGroup: "zero", checks.AngleGroup: "angle", checks.SignalGroup: "signal",
			checks.Ground: "ground", checks.OpticGroup: "optics", checks.DriveGroup: "drive", other: "other",
		},

		Plane: "Radial force over one turn, N", PlaneNote: "Points: measured, newest turn. Line: fitted circle. Dashed: circle of m·g. Cross: zero.",
		Enlarged: "Zero of the radial forces, N", EnlargedNote: "Centre of the circle, enlarged. Bars: U. Dashed: limit of each component.",
		Components: "Zero of each component, in limits", ComponentsNote: "Bars: U. Dashed: limits. An arrow lies beyond the picture.",
		NoTurn: "No whole turn of the lifted wheel was seen: nothing to draw.", NoZero: "The zero is not known: nothing to draw.",
		NoFit: "Points: measured, newest turn. Dashed: circle of m·g. No circle fits them: the table says why.", Circle: "It hangs with %s N.",

		Confirmations: "Confirmed by persons", ConfirmationsNote: "What no signal can show. It is no part of the verdict.",
		Confirmed: "Confirmation", Range: "Range", From: "at least", Most: "at most", Initials: "Initials", Time: "Time", State: "State", Reading: "Value",
		Given: "confirmed", NotGiven: "open", NotPossible: "not possible", Outside: "out of range", NoConfirmations: "The setup asks for no confirmation.",

		Deviations: "Deviations from the procedure", NoDeviations: "None was recorded.", Step: "Step", Reason: "Not possible because",
		NotTested: "What was not tested", NotTestedNote: "No statement is made on the following.",
		NotJudged: "not judged", NotFitted: "nothing to judge by", Why: "Why", InTables: "the tables above say of each what was missing", AllTested: "Every check that this setup knows was judged.",

		Rule: "Decision rule",
		RuleText: []string{
			"A value with an uncertainty is judged with a guard band as wide as its expanded uncertainty U (JCGM 106:2012, guarded acceptance, w = U). It passes when the whole interval value ± U lies within the limit, fails when the whole interval lies beyond the limit, and is inconclusive in between.",
			"In plain words: a pass holds even if the measurement is off by all of its uncertainty. The probability that a value that truly lies beyond its limit is accepted is below 2.5 % (ILAC-G8:09/2019, 4.2; normal distribution).",
			"U comes from the scatter between turns or seconds with Student's factor for their number, and from the resolution of signal and angle (JCGM 100:2008). It does not hold what repeating cannot show, such as the calibration of the sensor. Counts, states and values without ± are compared with their limit as they are.",
			"The test fails if any check fails; otherwise it is inconclusive if a required check is; otherwise it passes.",
		},
		Cautions: "Cautions",
		CautionText: []string{
			"plumbline is an aid. It says which checks passed, not whether a vehicle may be driven.",
			"Lifted vehicle: rated stands and chocks, ignition off and gear as the step needs. Nobody under the vehicle or beside a driven wheel, hands off the spokes. Never look into a laser beam.",
			"Torque by the vehicle maker's figures, and again after the first kilometres: heavy parts turn on this vehicle.",
			"Local rules and the site's licensed practice come first.",
		},
		Setup: "Setup", Files: "Files", Kind: "Kind", Name: "Name", Recording: "recording", SetupFile: "setup", NoSum: "not known",
		Serial: "Serial no., setup", SerialSent: "Serial no., sent", Forces: "Forces in", Counts: "Counts per turn", Bolts: "Bolts", Mass: "Mass of wheel, kg",
		Overhang: "Overhang, mm", Load: "Load, N", Tyre: "Tyre", Rotating: "rotating axes", Fixed: "fixed axes",
		Remarks: "Remarks on the recording", Frames: "%d frames", Statements: "Statements",
		StatementText: []string{
			"The results relate only to the items tested, in the state in which they were tested.",
			"This report carries the fields of ISO/IEC 17025:2017, 7.8.2 and 7.8.3, as far as they apply. It claims no accreditation.",
			"It may be handed on only whole, unless the laboratory agrees.",
		},
		Embedded: "This file carries its results as JSON, in the element “result”.",
	}
}

func german() catalogue {
	return catalogue{
		Code: "de", Decimal: ",",
		Title: "Funktionsprüfung der Radkraftsensoren", Report: "Bericht", Page: "Seite", Of: "von", End: "Ende des Berichts",
		Identification: "Kennzeichnung", Number: "Nummer des Berichts", Vehicle: "Fahrzeug", Item: "Gegenstand, Nummer und Zustand", Laboratory: "Prüflabor, Anschrift",
		Place: "Ort der Prüfung", Customer: "Auftraggeber", Tested: "Datum der Prüfung", Issued: "Datum der Ausgabe", Performed: "Durchgeführt von",
		Authorised: "Freigegeben von", Conditions: "Umgebungsbedingungen", Program: "Programm",
		Method:     "Verfahren",
		MethodText: "Funktionsprüfung aus den Signalen der Sensoren: Fahrzeug angehoben, jedes Rad von Hand vorwärts und zurück gedreht, dann abgelassen, im Stand und gerollt.",
		Amends:     "Ersetzt Bericht", Signature: "Name, Datum, Unterschrift", UTC: "UTC",

		Verdict: map[checks.Verdict]string{checks.Pass: "bestanden", checks.Fail: "FEHLER", checks.Inconclusive: "unentschieden", checks.Absent: "entfällt"},
		Overall: map[checks.Verdict]string{
			checks.Pass:         "Alle Prüfungen, die der Ablauf verlangt und die auf diesen Aufbau zutreffen, sind bestanden.",
			checks.Fail:         "Mindestens eine Prüfung ist nicht bestanden.",
			checks.Inconclusive: "Keine Prüfung ist durchgefallen, aber nicht alles Verlangte konnte beurteilt werden.",
			checks.Absent:       "Nichts konnte beurteilt werden.",
		},
		Failed: "nicht bestanden: %d", StillOpen: "verlangt und nicht beurteilt: %d", OpenConfirmed: "Bestätigungen offen: %d",
		Unusable: "Die Aufzeichnung konnte nicht beurteilt werden.", UnusableEnd: "Die Aufzeichnung konnte nicht bis zu ihrem Ende beurteilt werden.",

		Next: "Als Nächstes", Causes: "Ursachen", Explains: "Erklärt", Failures: "Fehler", NoFailure: "Keine Prüfung ist durchgefallen.",
		FailuresExplained: "Fehler, die die Ursachen oben erklären und die in den Tabellen stehen: %d.", Open: "Verlangt und nicht beurteilt", Overview: "Übersicht",

		ResultsNote: "Wert ± U: erweiterte Messunsicherheit, Überdeckungswahrscheinlichkeit etwa 95 %. Vorzeichen: Null ist, was der Kanal ohne Last anzeigt. Zeit: Sekunden ab Beginn der Aufzeichnung.",
		Check:       "Prüfung", Value: "Wert ± U (95 %)", Unit: "Einheit", Limit: "Grenze", Samples: "Werte", Turns: "Umdr.", Seconds: "Zeit, s", Word: "Urteil",
		Corner: "Rad", Axle: "Achse %d", Left: "links", Right: "rechts", Others: "Quellen, Optik und Fahrzeug",
		Groups: map[checks.Group]string{
			checks.Connection: "Verbindung", checks.ZeroGroup: "Null", checks.AngleGroup: "Winkel", checks.SignalGroup: "Signal",
			checks.Ground: "Boden", checks.OpticGroup: "Optik", checks.DriveGroup: "Fahrt", other: "Sonstiges",
		},

		Plane: "Radialkraft über eine Umdrehung, N", PlaneNote: "Punkte: gemessen, letzte Umdrehung. Linie: angepasster Kreis. Gestrichelt: Kreis von m·g. Kreuz: Null.",
		Enlarged: "Null der Radialkräfte, N", EnlargedNote: "Mittelpunkt des Kreises, vergrößert. Balken: U. Gestrichelt: Grenze je Komponente.",
		Components: "Null je Komponente, in Grenzen", ComponentsNote: "Balken: U. Gestrichelt: Grenzen. Ein Pfeil liegt außerhalb des Bildes.",
		NoTurn: "Keine ganze Umdrehung des angehobenen Rades gesehen: nichts zu zeichnen.", NoZero: "Die Null ist nicht bekannt: nichts zu zeichnen.",
		NoFit: "Punkte: gemessen, letzte Umdrehung. Gestrichelt: Kreis von m·g. Kein Kreis passt zu ihnen: Die Tabelle sagt, warum.", Circle: "Es hängt mit %s N.",

		Confirmations: "Von Personen bestätigt", ConfirmationsNote: "Was kein Signal zeigen kann. Es ist kein Teil des Urteils.",
		Confirmed: "Bestätigung", Range: "Bereich", From: "mindestens", Most: "höchstens", Initials: "Kürzel", Time: "Zeit", State: "Stand", Reading: "Wert",
		Given: "bestätigt", NotGiven: "offen", NotPossible: "nicht möglich", Outside: "außerhalb", NoConfirmations: "Der Aufbau verlangt keine Bestätigung.",

		Deviations: "Abweichungen vom Ablauf", NoDeviations: "Keine festgehalten.", Step: "Schritt", Reason: "Nicht möglich, weil",
		NotTested: "Was nicht geprüft wurde", NotTestedNote: "Zu Folgendem wird keine Aussage gemacht.",
		NotJudged: "nicht beurteilt", NotFitted: "nichts zu beurteilen", Why: "Warum", InTables: "die Tabellen oben sagen zu jedem, was fehlte", AllTested: "Jede Prüfung, die dieser Aufbau kennt, wurde beurteilt.",

		Rule: "Entscheidungsregel",
		RuleText: []string{
			"Ein Wert mit Unsicherheit wird mit einem Sicherheitsabstand beurteilt, der so breit ist wie seine erweiterte Messunsicherheit U (JCGM 106:2012, w = U). Er besteht, wenn der ganze Bereich Wert ± U innerhalb der Grenze liegt, er fällt durch, wenn der ganze Bereich jenseits der Grenze liegt, dazwischen ist er unentschieden.",
			"In einfachen Worten: Ein Bestanden gilt auch dann, wenn die Messung um ihre ganze Unsicherheit falsch ist. Die Wahrscheinlichkeit, dass ein Wert angenommen wird, der in Wahrheit jenseits seiner Grenze liegt, ist kleiner als 2,5 % (ILAC-G8:09/2019, 4.2; Normalverteilung).",
			"U kommt aus der Streuung zwischen Umdrehungen oder Sekunden mit dem Student-Faktor für deren Zahl und aus der Auflösung von Signal und Winkel (JCGM 100:2008). Was Wiederholen nicht zeigen kann, etwa die Kalibrierung des Sensors, ist nicht darin. Zählwerte, Zustände und Werte ohne ± werden unmittelbar mit ihrer Grenze verglichen.",
			"Die Funktionsprüfung ist nicht bestanden, wenn eine Prüfung nicht bestanden ist; sonst unentschieden, wenn eine verlangte es ist; sonst bestanden.",
		},
		Cautions: "Vorsicht",
		CautionText: []string{
			"plumbline ist ein Hilfsmittel. Es sagt, welche Prüfungen bestanden sind, nicht ob ein Fahrzeug gefahren werden darf.",
			"Angehobenes Fahrzeug: zugelassene Unterstellböcke und Keile, Zündung aus und Gang, wie es der Schritt verlangt. Niemand unter dem Fahrzeug oder neben einem angetriebenen Rad, Hände weg von den Speichen. Nie in einen Laserstrahl sehen.",
			"Anzugsmomente nach Angabe des Fahrzeugherstellers, und noch einmal nach den ersten Kilometern: An diesem Fahrzeug drehen sich schwere Teile.",
			"Örtliche Vorschriften und die zugelassene Praxis des Standorts gehen vor.",
		},
		Setup: "Aufbau", Files: "Dateien", Kind: "Art", Name: "Name", Recording: "Aufzeichnung", SetupFile: "Aufbau", NoSum: "nicht bekannt",
		Serial: "Seriennr., Aufbau", SerialSent: "Seriennr., gesendet", Forces: "Kräfte in", Counts: "Schritte je Umdr.", Bolts: "Schrauben", Mass: "Masse des Rades, kg",
		Overhang: "Überstand, mm", Load: "Last, N", Tyre: "Reifen", Rotating: "drehenden Achsen", Fixed: "festen Achsen",
		Remarks: "Bemerkungen zur Aufzeichnung", Frames: "%d Botschaften", Statements: "Erklärungen",
		StatementText: []string{
			"Die Ergebnisse beziehen sich nur auf die geprüften Gegenstände in dem Zustand, in dem sie geprüft wurden.",
			"Dieser Bericht trägt die Angaben nach ISO/IEC 17025:2017, 7.8.2 und 7.8.3, soweit sie zutreffen. Er beansprucht keine Akkreditierung.",
			"Er darf nur vollständig weitergegeben werden, es sei denn, das Labor stimmt zu.",
		},
		Embedded: "Diese Datei enthält ihre Ergebnisse als JSON, im Element „result“.",
	}
}
