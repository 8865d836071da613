package pages

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"
)

// A rigsPage lists the rigs that one may see, those with a job to come first.
type rigsPage struct {
	Own    []rigEntry // of one's crew
	Others []rigEntry
}

type rigEntry struct {
	service.RigView
	standing
}

// Path is where the page of the rig is.
func (r rigEntry) Path() string { return rigPath(r.RigView) }

func rigPath(r service.RigView) string { return "/rigs/" + string(r.CrewSlug) + "." + string(r.Slug) }

func showRigs(v *visit) error {
	rigs, err := v.pages.use.Rigs(v.Request().Context(), v.request(), "", "")
	if err != nil {
		return err
	}
	var page rigsPage
	for _, rig := range rigs {
		is, err := v.pages.use.Standing(v.Request().Context(), rig.RigView)
		if err != nil {
			return err
		}
		entry := rigEntry{rig.RigView, standingWords(is)}
		if rig.Crew == v.session.Caller.Crew || v.session.Crew == nil {
			page.Own = append(page.Own, entry)
		} else {
			page.Others = append(page.Others, entry)
		}
	}
	today := v.pages.now().Format(time.DateOnly)
	byJob(page.Own, today)
	byJob(page.Others, today)
	return v.show(http.StatusOK, "rigs", page)
}

// byJob sorts rigs: the next job first, then those without a date, then past
// jobs, the latest first.
func byJob(rigs []rigEntry, today string) {
	rank := func(r rigEntry) int {
		switch {
		case r.JobDate == "":
			return 1
		case r.JobDate >= today:
			return 0
		}
		return 2
	}
	slices.SortStableFunc(rigs, func(x, y rigEntry) int {
		dates := cmp.Compare(x.JobDate, y.JobDate)
		if rank(x) == 2 {
			dates = -dates
		}
		return cmp.Or(cmp.Compare(rank(x), rank(y)), dates, cmp.Compare(x.Name, y.Name))
	})
}

// A standing says in words how a rig stands.
type standing struct {
	State service.RigState
	Head  string // a word or two
	Text  string // a sentence
}

func standingWords(is service.Standing) standing {
	out := standing{State: is.State}
	least := leastChance(is.Delays.Pairs)
	switch is.State {
	case service.RigInside:
		out.Head, out.Text = "Inside", "Every pair stays inside its limit after the next power-up"+least+"."
	case service.RigOutside:
		out.Head, out.Text = "Outside", "A pair is beyond its limit"+least+". The plan says what to set or try."
	case service.RigUndecided:
		out.Head, out.Text = "Undecided", "Not known well enough to say inside or outside"+least+". One more measurement helps."
	case service.RigStale:
		out.Head, out.Text = "Check again", staleWords(is)
	case service.RigUnchecked:
		out.Head, out.Text = "Never checked", "No measurement was made yet with the plan dialled in."
	}
	return out
}

func staleWords(is service.Standing) string {
	if is.Revised {
		return "The rig was changed after its last check on " + is.LastAt.Format("2 January") + "."
	}
	text := "What is dialled in differs from the plan: "
	for i, set := range is.Dialled {
		if i > 0 {
			text += ", "
		}
		text += set.Setting.Control
	}
	return text + "."
}

// leastChance says how sure the least sure hard pair is.
func leastChance(pairs []service.DelayPair) string {
	least, known := 2.0, false
	for _, p := range pairs {
		if p.Importance == domain.Hard && p.Known && p.Chance < least {
			least, known = p.Chance, true
		}
	}
	if !known {
		return ""
	}
	return ", least sure " + wording.Chance(least)
}
