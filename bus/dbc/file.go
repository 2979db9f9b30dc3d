package dbc

import "time"

// File is what was read from one DBC file.
type File struct {
	Name     string // as given to Parse
	Messages []Message
	Warnings []string // "wheels.dbc:12: …", what was skipped or repaired and what follows from it
}

// Message is one BO_ statement.
type Message struct {
	Name      string
	ID        uint32 // without the flag bit
	Extended  bool
	Length    int           // bytes that the file declares
	CycleTime time.Duration // attribute GenMsgCycleTime, its default where the message has none; 0: not known
	Line      int           // of the BO_ statement, from 1
	Signals   []Signal
}

// Signal is one SG_ statement with all that other statements add to it.
type Signal struct {
	Name      string
	Line      int
	Start     int // start bit in the file's numbering (Motorola: of the most significant bit)
	Length    int // bits, 1–64
	BigEndian bool
	Signed    bool
	Float     bool    // IEEE 754: Length is 32 or 64
	Scale     float64 // value in Unit = Scale·raw + Offset
	Offset    float64 // in Unit
	Min, Max  float64 // as stated; 0,0 where the file states nothing. Never used to clamp
	Unit      string  // as stated, converted from Windows-1252
	Values    []ValueText
	Switch    bool        // other signals of the message depend on this one's raw value
	Mux       []MuxChoice // empty: always present. Else present when every choice holds (extended multiplexing nests)
}

// MuxChoice is one condition for the presence of a multiplexed signal: the raw
// value of the switch lies in one of the ranges.
type MuxChoice struct {
	Switch int         // index into Message.Signals
	Ranges [][2]uint64 // raw, both ends included
}

// ValueText is one entry of a VAL_ table.
type ValueText struct {
	Raw  int64
	Text string
}
