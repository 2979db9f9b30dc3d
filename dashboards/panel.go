package dashboards

import (
	"fmt"
	"maps"
	"slices"
	"strconv"

	"github.com/grafana/grafana-foundation-sdk/go/bargauge"
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/variants"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/table"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// kind is how a panel draws.
type kind int

const (
	lines    kind = iota // values over time
	timeline             // states over time
	number               // the newest value, big
	bars                 // the newest values side by side
	rows                 // a table of what is now
)

// tableColumn names a column of a table and says how its values are written.
type tableColumn struct {
	value, name string // as Prometheus calls it, as it is shown
	unit        string
	states      []state
	below       float64 // values below, where it is not 0, are told by word
	word        string
}

// panel is one picture of a board.
type panel struct {
	kind               kind
	title, description string
	unit               string // Grafana's name of it
	width, height      uint32 // of 24 columns; of a row of about 38 px
	queries            []query
	states             []state  // what the values mean; nil: they are quantities
	decimals           int      // shown; 0: as many as fit
	bound              float64  // bars: full from here on, where it is not 0
	hide               []string // rows: labels that tell nothing
	columns            []tableColumn
	empty              string // what is said where there is nothing
}

func datasource() common.DataSourceRef {
	return common.DataSourceRef{Type: new("prometheus"), Uid: new("${datasource}")}
}

// Build makes what Grafana reads.
func (p *panel) Build() (dashboard.Panel, error) {
	out, err := p.bare().Build()
	if err != nil {
		return out, fmt.Errorf("%s: %w", p.title, err)
	}
	out.Title, out.Description = &p.title, &p.description
	out.Datasource = new(datasource())
	out.GridPos = &dashboard.GridPos{W: p.width, H: p.height}
	for i, q := range p.queries {
		target, err := p.target(i, q)
		if err != nil {
			return out, fmt.Errorf("%s: %w", p.title, err)
		}
		out.Targets = append(out.Targets, target)
	}
	if out.FieldConfig == nil {
		out.FieldConfig = dashboard.NewFieldConfigSource()
	}
	d := &out.FieldConfig.Defaults
	unit := p.unit
	if p.states != nil {
		unit = "none" // the words say it
	}
	d.Unit = &unit
	if p.decimals > 0 {
		d.Decimals = new(float64(p.decimals))
	}
	if p.empty != "" {
		d.NoValue = &p.empty
	}
	p.colours(out.FieldConfig)
	return out, nil
}

// bare is the panel as its kind wants it.
func (p *panel) bare() cog.Builder[dashboard.Panel] {
	legend := common.NewVizLegendOptionsBuilder().DisplayMode(common.LegendDisplayModeList).Placement(common.LegendPlacementBottom).ShowLegend(true)
	all := common.NewVizTooltipOptionsBuilder().Mode(common.TooltipDisplayModeMulti)
	newest := common.NewReduceDataOptionsBuilder().Calcs([]string{"lastNotNull"})
	switch p.kind {
	case timeline:
		return statetimeline.NewPanelBuilder().ShowValue(common.VisibilityModeAuto).RowHeight(0.85).MergeValues(true).
			FillOpacity(85).LineWidth(0).Legend(legend).Tooltip(all)
	case number:
		return stat.NewPanelBuilder().ReduceOptions(newest).GraphMode(common.BigValueGraphModeNone).
			ColorMode(common.BigValueColorModeBackgroundSolid).TextMode(common.BigValueTextModeAuto).JustifyMode(common.BigValueJustifyModeCenter)
	case bars:
		b := bargauge.NewPanelBuilder().ReduceOptions(newest).Orientation(common.VizOrientationHorizontal).
			DisplayMode(common.BarGaugeDisplayModeBasic).ValueMode(common.BarGaugeValueModeText).Min(0)
		if p.bound > 0 {
			b.Max(p.bound)
		}
		return b
	case rows:
		hidden := map[string]bool{"Time": true}
		for _, label := range append([]string{"__name__", "instance", "job"}, p.hide...) {
			hidden[label] = true
		}
		names := map[string]string{}
		for _, c := range p.columns {
			names[c.value] = c.name
		}
		return table.NewPanelBuilder().CellHeight(common.TableCellHeightSm).
			Footer(common.NewTableFooterOptionsBuilder().Show(false).Reducer([]string{})).
			WithTransformation(dashboard.DataTransformerConfig{Id: "merge", Options: map[string]any{}}).
			WithTransformation(dashboard.DataTransformerConfig{Id: "organize", Options: map[string]any{"excludeByName": hidden, "renameByName": names}})
	case lines:
	}
	return timeseries.NewPanelBuilder().LineWidth(2).FillOpacity(0).ShowPoints(common.VisibilityModeNever).
		SpanNulls(common.BoolOrFloat64{Bool: new(false)}).Legend(legend).Tooltip(all)
}

func (p *panel) target(i int, q query) (variants.Dataquery, error) {
	b := prometheus.NewDataqueryBuilder().Expr(q.expr).RefId(string(rune('A' + i))).Datasource(datasource()).EditorMode(prometheus.QueryEditorModeCode)
	if p.kind == rows {
		b.Instant().Format(prometheus.PromQueryFormatTable)
	} else {
		b.Range().Format(prometheus.PromQueryFormatTimeSeries).LegendFormat(q.legend)
	}
	return b.Build()
}

// colours gives states their words, and lines colours by which they can be told apart.
func (p *panel) colours(c *dashboard.FieldConfigSource) {
	c.Overrides = []dashboard.DashboardFieldConfigSourceOverrides{}
	for _, column := range p.columns {
		c.Overrides = append(c.Overrides, column.override())
	}
	if p.states != nil {
		c.Defaults.Mappings = mappings(p.states)
		c.Defaults.Thresholds = flat(dark)
		c.Defaults.Color = &dashboard.FieldColor{Mode: dashboard.FieldColorModeIdThresholds}
		return
	}
	switch p.kind {
	case lines:
		c.Defaults.Color = &dashboard.FieldColor{Mode: dashboard.FieldColorModeIdPaletteClassicByName}
		for _, k := range cornerColours() {
			style := map[string]any{"fill": "solid"}
			if k[0][1] == 'R' {
				style = map[string]any{"fill": "dash", "dash": []int{12, 5}}
			}
			c.Overrides = append(c.Overrides, override(`/^`+k[0]+`\b/`, "color", fixed(k[1]), "custom.lineStyle", style))
		}
		c.Overrides = append(c.Overrides,
			override(`/ (low|high|±)$/`, "custom.lineWidth", 1),
			override(`/^limit/`, "color", fixed(vermilion), "custom.lineStyle", map[string]any{"fill": "dot", "dash": []int{2, 6}}, "custom.lineWidth", 1))
	case bars:
		c.Defaults.Thresholds = flat(blue)
		if p.bound > 0 {
			c.Defaults.Thresholds.Steps = append(c.Defaults.Thresholds.Steps, dashboard.Threshold{Value: &p.bound, Color: vermilion})
		}
		c.Defaults.Color = &dashboard.FieldColor{Mode: dashboard.FieldColorModeIdThresholds}
	case number, rows, timeline:
		c.Defaults.Thresholds = flat(dark)
		c.Defaults.Color = &dashboard.FieldColor{Mode: dashboard.FieldColorModeIdThresholds}
	}
}

// mappings gives states their words and colours.
func mappings(states []state) []dashboard.ValueMapping {
	options := map[string]dashboard.ValueMappingResult{}
	for i, s := range states {
		options[strconv.Itoa(s.value)] = dashboard.ValueMappingResult{Text: new(s.word), Color: new(s.colour), Index: new(int32(i))}
	}
	return []dashboard.ValueMapping{{ValueMap: &dashboard.ValueMap{Type: dashboard.MappingTypeValueToText, Options: options}}}
}

// override is what Grafana wants of a column.
func (c *tableColumn) override() dashboard.DashboardFieldConfigSourceOverrides {
	o := dashboard.DashboardFieldConfigSourceOverrides{Matcher: dashboard.MatcherConfig{Id: "byName", Options: c.name}, Properties: []dashboard.DynamicConfigValue{}}
	if c.unit != "" {
		o.Properties = append(o.Properties, dashboard.DynamicConfigValue{Id: "unit", Value: c.unit})
	}
	switch {
	case c.states != nil:
		o.Properties = append(o.Properties, dashboard.DynamicConfigValue{Id: "mappings", Value: mappings(c.states)})
	case c.word != "":
		o.Properties = append(o.Properties, dashboard.DynamicConfigValue{Id: "mappings", Value: []dashboard.ValueMapping{{RangeMap: &dashboard.RangeMap{
			Type:    dashboard.MappingTypeRangeToText,
			Options: dashboard.DashboardRangeMapOptions{From: new(-1e9), To: &c.below, Result: dashboard.ValueMappingResult{Text: &c.word, Color: new(vermilion), Index: new(int32(0))}},
		}}}})
	}
	return o
}

func flat(colour string) *dashboard.ThresholdsConfig {
	return &dashboard.ThresholdsConfig{Mode: dashboard.ThresholdsModeAbsolute, Steps: []dashboard.Threshold{{Color: colour}}}
}

func fixed(colour string) map[string]any {
	return map[string]any{"mode": "fixed", "fixedColor": colour}
}

// override changes the series whose names match; what follows are names and values of properties.
func override(pattern string, properties ...any) dashboard.DashboardFieldConfigSourceOverrides {
	o := dashboard.DashboardFieldConfigSourceOverrides{Matcher: dashboard.MatcherConfig{Id: "byRegexp", Options: pattern}}
	for pair := range slices.Chunk(properties, 2) {
		o.Properties = append(o.Properties, dashboard.DynamicConfigValue{Id: pair[0].(string), Value: pair[1]})
	}
	return o
}

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
