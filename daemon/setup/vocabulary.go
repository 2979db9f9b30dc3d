package setup

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"strings"

	"github.com/go-viper/mapstructure/v2"
	"github.com/spf13/viper"

	"plumbline/checks"
)

// The words of a setup file are the tags below and nothing else: the walk over
// the tree (words.go) and the decoder both read them here. Pointers tell what
// was given from what was not.

// root is the whole file.
type root struct {
	Vehicle   string              `mapstructure:"vehicle"`
	MassKg    *float64            `mapstructure:"mass_kg"`
	Sources   []sourceWords       `mapstructure:"sources"`
	Defaults  fitWords            `mapstructure:"defaults"`
	Corners   []cornerWords       `mapstructure:"corners"`
	Optics    []opticWords        `mapstructure:"optics"`
	Limits    limitWords          `mapstructure:"limits"`
	TurnOrder []string            `mapstructure:"turn_order"`
	Confirm   []confirmationWords `mapstructure:"confirm"`
	Record    *recordWords        `mapstructure:"record"`
	Results   *string             `mapstructure:"results"`
}

// recordWords is how to record.
type recordWords struct {
	Dir  *string `mapstructure:"dir"`
	Keep *string `mapstructure:"keep"`
	Part *string `mapstructure:"part"`
	Zstd *bool   `mapstructure:"zstd"`
}

// sourceWords is one bus.
type sourceWords struct {
	Name     string         `mapstructure:"name"`
	CAN      *string        `mapstructure:"can"`
	Adapter  *string        `mapstructure:"adapter"`
	Stamps   *string        `mapstructure:"stamps"`
	Serial   *string        `mapstructure:"serial"`
	Match    *string        `mapstructure:"match"`
	DBC      []string       `mapstructure:"dbc"`
	Layout   *string        `mapstructure:"layout"`
	Baud     *int           `mapstructure:"baud"`
	Framing  *string        `mapstructure:"framing"`
	Checksum *checksumWords `mapstructure:"checksum"`
	MatchPGN *bool          `mapstructure:"match_pgn"`
	Periods  []periodWords  `mapstructure:"periods"`
}

// checksumWords is a checksum as the CRC catalogue describes it.
type checksumWords struct {
	Width      *int   `mapstructure:"width"`
	Poly       uint64 `mapstructure:"poly"`
	Init       uint64 `mapstructure:"init"`
	XorOut     uint64 `mapstructure:"xor_out"`
	ReflectIn  bool   `mapstructure:"reflect_in"`
	ReflectOut bool   `mapstructure:"reflect_out"`
}

// periodWords overrides the cycle time that a DBC file states.
type periodWords struct {
	Message string  `mapstructure:"message"`
	Ms      float64 `mapstructure:"ms"`
}

// fitWords is what corners have in common: the words of defaults.
type fitWords struct {
	Forces      *string      `mapstructure:"forces"`
	AngleCounts *int         `mapstructure:"angle_counts"`
	Bolts       *int         `mapstructure:"bolts"`
	Tyre        *string      `mapstructure:"tyre"`
	WheelMassKg *float64     `mapstructure:"wheel_mass_kg"`
	OverhangM   *float64     `mapstructure:"overhang_m"`
	LoadN       *float64     `mapstructure:"load_n"`
	Channels    channelWords `mapstructure:"channels"`
}

// cornerWords is one wheel position.
type cornerWords struct {
	Name     string  `mapstructure:"name"`
	Axle     *int    `mapstructure:"axle"`
	Side     *string `mapstructure:"side"`
	Serial   *uint64 `mapstructure:"serial"`
	fitWords `mapstructure:",squash"`
}

// opticWords is one optical sensor.
type opticWords struct {
	Name                string       `mapstructure:"name"`
	Kind                *string      `mapstructure:"kind"`
	Corner              *string      `mapstructure:"corner"`
	BaselineM           *float64     `mapstructure:"baseline_m"`
	BaselineThirdM      *float64     `mapstructure:"baseline_third_m"`
	ClearanceM          *float64     `mapstructure:"clearance_m"`
	ClearanceToleranceM *float64     `mapstructure:"clearance_tolerance_m"`
	Channels            channelWords `mapstructure:"channels"`
}

// channelWords are channels by the name of their quantity.
type channelWords map[string]channelWord

// channelWord is one channel. In the file it may be the text of signal alone;
// an empty one takes a default away.
type channelWord struct {
	Signal string   `mapstructure:"signal"`
	Unit   *string  `mapstructure:"unit"`
	Sign   *float64 `mapstructure:"sign"`
	Scale  *float64 `mapstructure:"scale"`
	Good   []any    `mapstructure:"good"` // raw numbers or texts of the value table
}

// limitWords are limits by their key. A single bound is a list of one.
type limitWords map[string][]float64

// confirmationWords is one thing that a person confirms.
type confirmationWords struct {
	ID    string      `mapstructure:"id"`
	Text  string      `mapstructure:"text"`
	Value *valueWords `mapstructure:"value"`
}

// valueWords is the range of a value that a person reads off.
type valueWords struct {
	Unit string   `mapstructure:"unit"`
	Min  *float64 `mapstructure:"min"`
	Max  *float64 `mapstructure:"max"`
}

// decode lays a tree that passed checkWords over the defaults. Each call has
// its own viper; types are strict and no text is split or turned into a number.
func decode(n *node) (*root, error) {
	settings, ok := n.settings().(map[string]any)
	if !ok {
		return nil, errors.New("a setup file is a mapping of keys to values")
	}
	v := viper.New()
	v.SetDefault("vehicle", "")
	v.SetDefault("defaults.forces", "rotating")
	for _, k := range checks.LimitKeys() {
		if k.Range {
			v.SetDefault("limits."+k.Key, k.Default[:])
		} else {
			v.SetDefault("limits."+k.Key, k.Default[:1])
		}
	}
	if err := v.MergeConfigMap(settings); err != nil {
		return nil, fmt.Errorf("merge with the defaults: %w", err)
	}
	var r root
	strict := func(c *mapstructure.DecoderConfig) {
		c.WeaklyTypedInput = false
		c.DecodeHook = nil
	}
	if err := v.UnmarshalExact(&r, strict); err != nil {
		return nil, fmt.Errorf("decode: %w", err)
	}
	return &r, nil
}

// word returns the key of a field, empty for an embedded one.
func word(f *reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("mapstructure"), ",")
	return name
}

// fields returns the words of a struct with their types, those of embedded
// structs in their place.
func fields(t reflect.Type) (words []string, types map[string]reflect.Type) {
	types = map[string]reflect.Type{}
	for f := range t.Fields() {
		if f.Anonymous {
			inner, innerTypes := fields(f.Type)
			words = append(words, inner...)
			maps.Copy(types, innerTypes)
			continue
		}
		words = append(words, word(&f))
		types[word(&f)] = f.Type
	}
	return words, types
}
