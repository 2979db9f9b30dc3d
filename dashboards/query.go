package dashboards

import (
	"fmt"
	"strings"
)

// query is one expression of a panel. A legend names its series, {{label}} is the value of a label.
type query struct {
	expr, legend string
}

// own selects the series of a metric that belong to the vehicle that the board shows.
func own(metric string, matchers ...string) string {
	return metric + "{" + strings.Join(append([]string{`instance=~"$instance"`}, matchers...), ",") + "}"
}

// corner selects those of the corners that are looked at.
func corner(metric string, matchers ...string) string {
	return own(metric, append([]string{`corner=~"$corner"`}, matchers...)...)
}

// subject is corner for metrics that optical sensors have as well.
func subject(metric string, matchers ...string) string {
	return own(metric, append([]string{`subject=~"$corner"`}, matchers...)...)
}

// verdictOf turns the state set of the verdicts to one number: 3 fail, 2 open, 1 pass, 0 not fitted; the worst of
// what by puts together.
func verdictOf(by string, selects func(metric string, matchers ...string) string, matchers ...string) string {
	of := func(verdict string) string {
		return selects("plumbline_check_verdict", append([]string{`verdict="` + verdict + `"`}, matchers...)...)
	}
	return fmt.Sprintf("max by (%s) (\n  3 * %s\n  or 2 * %s\n  or %s\n)", by, of("fail"), of("inconclusive"), of("pass"))
}

// stateOf turns any state set to the number of the state that is so.
func stateOf(metric, label string, words map[string]int, by string, matchers ...string) string {
	var parts []string
	for _, word := range sorted(words) {
		if n := words[word]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d * %s", n, own(metric, append([]string{label + `="` + word + `"`}, matchers...)...)))
		}
	}
	return "max by (" + by + ") (\n  " + strings.Join(parts, "\n  or ") + "\n)"
}

// quantile is a quantile of a histogram over the last while, whether it was scraped as a native one or in buckets.
func quantile(q float64, by, metric, window string, matchers ...string) string {
	native := own(metric, matchers...)
	buckets := own(metric+"_bucket", matchers...)
	return fmt.Sprintf("histogram_quantile(%g, sum by (%s) (rate(%s[%s])))\nor histogram_quantile(%g, sum by (%s, le) (rate(%s[%s])))",
		q, by, native, window, q, by, buckets, window)
}

// limit is a limit line: one value for the whole vehicle.
func limit(unit, name, bound string) string {
	return "max(" + own("plumbline_limit_"+unit, `limit="`+name+`"`, `bound="`+bound+`"`) + ")"
}

// bothLimits are the lines of a limit that counts to both sides. convert is a format with one %s, empty: as it is.
func bothLimits(unit, name, convert string) []query {
	l := limit(unit, name, "upper")
	if convert != "" {
		l = fmt.Sprintf(convert, l)
	}
	return []query{{l, "limit"}, {"-" + l, "limit below"}}
}
