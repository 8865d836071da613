package wording

import (
	"fmt"
	"slices"
	"strings"

	"delaybook/domain"
	"delaybook/domain/plan"
	"delaybook/domain/service"

	"github.com/shopspring/decimal"
)

// Cautions stand under every sheet, broken into lines for a chat.
const Cautions = `This sheet is void after switching off, re-plugging, another mode, format or chain, or a new
revision: check again. Read each dial back after setting it. A delay on a desk channel also
reaches what that channel feeds: keep loudspeakers and in-ears live. Raise test tones from
silence, warn people before flashes, no test tone on air. Mains, height and cables: local rules
and licensed practice first. A number does not replace watching the programme.
`

// CautionList returns the cautions sentence by sentence.
func CautionList() []string {
	return strings.SplitAfter(strings.Join(strings.Fields(Cautions), " "), ". ")
}

// planStates says what each state of a plan means for who stands at the rig.
var planStates = map[plan.State]string{
	plan.OK:         "every hard pair stays inside its limit",
	plan.Unsure:     "the best to dial in; more measurements would tell whether every hard pair stays inside its limit",
	plan.Partial:    "some pairs are not known: measure them",
	plan.Infeasible: "NOT every hard pair can be held: see the notes",
	plan.Unknown:    "NOTHING is known yet: measure first",
}

// PlanState says what the state of a plan means for who stands at the rig.
func PlanState(state plan.State) string { return planStates[state] }

// Amount writes a value with its unit as people say it.
func Amount(value decimal.Decimal, unit domain.ControlUnit) string {
	if unit == domain.UnitMS || value.Equal(decimal.NewFromInt(1)) {
		return value.String() + " " + string(unit)
	}
	return value.String() + " " + string(unit) + "s"
}

// SettingAmount says the value of a setting with its unit, and in ms where that
// is another unit.
func SettingAmount(x service.DelaySetting) string {
	value := Amount(x.Value, x.Control.Unit)
	if x.Control.Unit != domain.UnitMS || x.Value.InexactFloat64() != x.MS {
		value += fmt.Sprintf(" (%.1f ms)", x.MS)
	}
	return value
}

// Reaches lists what a setting delays: chains, destinations and live feeds.
func Reaches(x service.DelaySetting) string {
	text := list(slices.Concat(x.Placed.Chains, x.Placed.Tails))
	if len(x.Feeds) > 0 {
		text += " and the live " + list(x.Feeds)
	}
	return text
}

func list(slugs []domain.Slug) string {
	var words []string
	for _, s := range slugs {
		words = append(words, string(s))
	}
	return strings.Join(words, ", ")
}

// Margin says how far next95 stays from the nearer bound of the limit.
func Margin(p service.DelayPair) string {
	margin := p.SpareMS()
	if margin < 0 {
		return fmt.Sprintf("the next power-up may be %.1f ms beyond", -margin)
	}
	return fmt.Sprintf("%.1f ms to spare", margin)
}
