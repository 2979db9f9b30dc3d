package metrics

import (
	"bytes"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
)

// texts serves the two text formats, in which nearly everybody asks, and leaves the rest to other. Names and labels are written
// once, when a series is met first: a scrape writes them again in a third of the time that making them takes.
func (e *Exporter) texts(r *prometheus.Registry, other http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, request *http.Request) {
		format := expfmt.NegotiateAccept(request.Header, expfmt.DefaultOpenMetricsAcceptedFormats()...)
		open := format.FormatType() == expfmt.TypeOpenMetrics
		if !open && format.FormatType() != expfmt.TypeTextPlain {
			other.ServeHTTP(w, request)
			return
		}
		beside, _ := r.Gather() // what could be gathered; one bad metric must not hide all others
		var b bytes.Buffer
		own := false
		for _, f := range beside { // sorted by name, with what is our own among them
			if !own && f.GetName() > prefix {
				e.write(&b, open)
				own = true
			}
			encode(&b, f, open)
		}
		if !own {
			e.write(&b, open)
		}
		if open {
			_, _ = expfmt.FinalizeOpenMetrics(&b) // a buffer takes everything
		}
		w.Header().Set("Content-Type", string(format))
		w.Header().Add("Vary", "Accept")
		_, _ = w.Write(b.Bytes())
	})
}

// prefix begins the names of all our metrics.
const prefix = "plumbline_"

// write puts our own families, by name.
func (e *Exporter) write(b *bytes.Buffer, open bool) {
	samples := e.samples()
	var runs [][]sample
	for from := 0; from < len(samples); {
		to := from
		for to < len(samples) && samples[to].family == samples[from].family {
			to++
		}
		runs = append(runs, samples[from:to])
		from = to
	}
	slices.SortFunc(runs, func(a, b []sample) int { return strings.Compare(a[0].family.Name, b[0].family.Name) })
	b.Grow(len(samples) * 96)
	for _, run := range runs {
		f := run[0].family
		if f.Type == Histogram {
			encode(b, ofHistograms(run), open)
			continue
		}
		name, kind := f.Name, " gauge\n"
		if f.Type == Counter {
			kind = " counter\n"
			if open {
				name = strings.TrimSuffix(name, "_total")
			}
		}
		b.WriteString("# HELP " + name + " " + f.Help + "\n# TYPE " + name + kind)
		line := make([]byte, 0, 256)
		for i := range run {
			line = append(line[:0], run[i].series.text...)
			line = append(appendNumber(line, run[i].value, open), '\n')
			b.Write(line)
		}
	}
}

// appendNumber writes a finite value as expfmt does.
func appendNumber(to []byte, v float64, open bool) []byte {
	if whole := int64(v); float64(whole) == v && math.Abs(v) < 1e6 {
		to = strconv.AppendInt(to, whole, 10)
		if open {
			to = append(to, ".0"...)
		}
		return to
	}
	from := len(to)
	to = strconv.AppendFloat(to, v, 'g', -1, 64)
	if open && !bytes.ContainsAny(to[from:], "e.") {
		to = append(to, ".0"...)
	}
	return to
}

// lineOf is the name of a series with its labels, up to its value.
func lineOf(name string, pairs []*dto.LabelPair) string {
	var b strings.Builder
	b.WriteString(name)
	escape := strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`)
	for i, p := range pairs {
		separator := ","
		if i == 0 {
			separator = "{"
		}
		b.WriteString(separator + p.GetName() + `="` + escape.Replace(p.GetValue()) + `"`)
	}
	if len(pairs) > 0 {
		b.WriteByte('}')
	}
	b.WriteByte(' ')
	return b.String()
}

// ofHistograms is a family of histograms for expfmt.
func ofHistograms(run []sample) *dto.MetricFamily {
	f := run[0].family
	kind := dto.MetricType_HISTOGRAM
	out := &dto.MetricFamily{Name: &f.Name, Help: &f.Help, Type: &kind}
	for i := range run {
		out.Metric = append(out.Metric, &dto.Metric{Label: run[i].series.pairs, Histogram: run[i].counts})
	}
	return out
}

// encode writes a family that is not our own, or not of single numbers.
func encode(b *bytes.Buffer, f *dto.MetricFamily, open bool) {
	before := b.Len()
	write := expfmt.MetricFamilyToText
	if open {
		write = func(w io.Writer, f *dto.MetricFamily) (int, error) { return expfmt.MetricFamilyToOpenMetrics(w, f) }
	}
	if _, err := write(b, f); err != nil {
		b.Truncate(before) // half a family would spoil the rest
	}
}
