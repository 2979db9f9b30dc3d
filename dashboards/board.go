package dashboards

import (
	"encoding/json"
	"fmt"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
)

// Board is one Grafana dashboard.
type Board struct {
	Name string // of its file, without .json; it is the uid as well

	title, description string
	from, refresh      string
	vehicles           bool // of all vehicles, not of one
	sections           []section
}

// section is a row of panels under a title.
type section struct {
	title  string
	panels []*panel
}

// Boards returns all boards in the order in which a vehicle meets them.
func Boards() []Board { return []Board{functionTest(), drive(), busAndDaemon(), fleet()} }

// JSON returns the board as Grafana reads it from a file.
func (b *Board) JSON() ([]byte, error) {
	d, err := b.build()
	if err != nil {
		return nil, fmt.Errorf("board %s: %w", b.Name, err)
	}
	text, err := json.MarshalIndent(d, "", "  ")
	return append(text, '\n'), err
}

func (b *Board) build() (dashboard.Dashboard, error) {
	d := dashboard.NewDashboardBuilder(b.title).Uid("plumbline-"+b.Name).Description(b.description).Tags([]string{"plumbline"}).
		Time(b.from, "now").Refresh(b.refresh).Timezone("browser").Tooltip(dashboard.DashboardCursorSyncCrosshair).Editable()
	d.Link(dashboard.NewDashboardLinkBuilder("plumbline").Type(dashboard.DashboardLinkTypeDashboards).Tags([]string{"plumbline"}).IncludeVars(true).KeepTime(true).AsDropdown(false))
	for _, v := range b.variables() {
		d.WithVariable(v)
	}
	for _, a := range b.annotations() {
		d.Annotation(a)
	}
	for _, s := range b.sections {
		d.WithRow(dashboard.NewRowBuilder(s.title))
		for _, p := range s.panels {
			d.WithPanel(p)
		}
	}
	out, err := d.Build()
	for i := range out.Panels { // an id that stays, so that links to one panel do
		id := uint32(i + 1)
		if p := out.Panels[i].Panel; p != nil {
			p.Id = &id
		} else {
			out.Panels[i].RowPanel.Id = id
		}
	}
	return out, err
}

// Variables are asked of the store: nothing has to be written into a board.
const (
	vehicleQuery      = `label_values(plumbline_setup_info, vehicle)`
	instanceQuery     = `label_values(plumbline_setup_info{vehicle=~"$vehicle"}, instance)`
	cornerQuery       = `label_values(plumbline_corner_hang_state{instance=~"$instance"}, corner)`
	everything        = ".*"
	datasourceDefault = "default"
)

func (b *Board) variables() []cog.Builder[dashboard.VariableModel] {
	ask := func(name, label, description, q string) *dashboard.QueryVariableBuilder {
		return dashboard.NewQueryVariableBuilder(name).Label(label).Description(description).Query(dashboard.StringOrMap{String: &q}).Definition(q).
			Datasource(datasource()).Refresh(dashboard.VariableRefreshOnTimeRangeChanged).Sort(dashboard.VariableSortAlphabeticalAsc)
	}
	out := []cog.Builder[dashboard.VariableModel]{
		dashboard.NewDatasourceVariableBuilder("datasource").Label("Data source").Description("The Prometheus, or a store that speaks its language, that holds the metrics.").Type("prometheus"),
	}
	vehicle := ask("vehicle", "Vehicle", "As the setup file calls it.", vehicleQuery)
	if b.vehicles {
		return append(out, vehicle.Multi(true).IncludeAll(true).AllValue(everything))
	}
	return append(out, vehicle,
		ask("instance", "Instance", "The computers that listen in this vehicle.", instanceQuery).Hide(dashboard.VariableHideHideVariable).Multi(true).IncludeAll(true).Current(all()),
		ask("corner", "Corner", "Wheels and optical sensors to look at.", cornerQuery).Multi(true).IncludeAll(true).AllValue(everything).Current(all()))
}

// all is the choice of everything.
func all() dashboard.VariableOption {
	return dashboard.VariableOption{
		Selected: new(true),
		Text:     dashboard.StringOrArrayOfString{ArrayOfString: []string{"All"}}, Value: dashboard.StringOrArrayOfString{ArrayOfString: []string{"$__all"}},
	}
}

// annotations mark on every panel when something failed, and which alarm was raised.
func (b *Board) annotations() []cog.Builder[dashboard.AnnotationQuery] {
	if b.vehicles {
		return nil
	}
	mark := func(name, colour, expr, title, text, tags string) cog.Builder[dashboard.AnnotationQuery] {
		return dashboard.NewAnnotationQueryBuilder().Name(name).Datasource(datasource()).Enable(true).IconColor(colour).
			Target(prometheus.NewDataqueryBuilder().Expr(expr).RefId("Anno").Datasource(datasource())).
			Expr(expr).TitleFormat(title).TextFormat(text).TagKeys(tags).Step("1s")
	}
	return []cog.Builder[dashboard.AnnotationQuery]{
		mark("Failing checks", vermilion, ago("plumbline_finding_last_failure_timestamp_seconds")+" < bool 2", "{{subject}} {{channel}} fails {{check}}", "for as long as it failed", "check"),
		mark("Causes", orange, own("plumbline_cause_active")+" == 1", "{{id}}", "explains several findings at once", "id"),
		mark("Alarms", purple, `ALERTS{instance=~"$instance",alertstate="firing"} == 1`, "{{alertname}}", "{{subject}} {{channel}} {{source}}", "severity"),
	}
}

// failing is 1 for each finding that fails.
func failing() string { return subject("plumbline_check_verdict", `verdict="fail"`) + " == 1" }
