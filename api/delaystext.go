package api

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// notToSet says why the plan has nothing that a script should dial in.
func notToSet(d *service.Delays) error {
	reason := "nothing is known of its pairs yet: measure one"
	if d.State != "unknown" {
		reason = "no setting holds every hard pair"
	}
	for _, a := range d.Plan.Advice {
		reason += "; " + a.Text
	}
	return domain.Errorf(domain.Conflict, "The state of the plan is %s: %s. Ask for JSON to see it whole, or add force=1.", d.State, reason)
}

// delaysText is the plan for scripts: a line that says how good it is, then a
// line per control.
func delaysText(d *service.Delays) string {
	var b strings.Builder
	least, limit := weakest(d)
	fmt.Fprintf(&b, "# %s %s %s book %d\n", d.State, least, limit, d.Version)
	for _, x := range d.Settings {
		if !x.Fixed {
			fmt.Fprintf(&b, "%s %s %s %.1f ms\n", x.Setting.Control, x.Value, x.Control.Unit, x.MS)
		}
	}
	return b.String()
}

// weakest returns the least chance of the hard pairs and the limit that it is
// for; dashes if nothing is known.
func weakest(d *service.Delays) (least, limit string) {
	least, limit = "-", "-"
	worst := 2.0
	for _, p := range d.Pairs {
		if p.Importance == domain.Hard && p.Known && p.Chance < worst {
			worst, limit = p.Chance, p.Limit.Slug
			least = chanceText(p.Chance)
		}
	}
	return least, limit
}

// chanceText writes a chance with four decimals, rounded down and never as 1.
func chanceText(chance float64) string {
	const parts = 10_000
	return strconv.FormatFloat(min(math.Floor(chance*parts), parts-1)/parts, 'f', 4, 64)
}

func delaysCSV(c echo.Context, d Delays) error {
	t := newTable("control", "value", "unit", "ms", "now", "at_end", "ours", "where", "chains")
	for _, x := range d.Settings {
		now := ""
		if x.Now != nil {
			now = string(*x.Now)
		}
		t.row(word(x.Control), string(x.Value), word(x.Unit), num(&x.MS), now, fmt.Sprint(x.AtEnd), fmt.Sprint(x.Ours),
			word(x.Where), word(strings.Join(x.Chains, " ")))
	}
	return t.send(c)
}
