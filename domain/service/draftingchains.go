package service

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"

	"github.com/shopspring/decimal"
)

// resolveChains finds what was compared and where; nil if it could not.
func (d *drafting) resolveChains(
	bad *domain.Fields, l *domain.Layout, m *domain.Measurement, in NewMeasurement,
) *domain.Destination {
	before := len(*bad)
	if m.ReadAt = domain.Slug(in.ReadAt); in.ReadAt == "" {
		m.ReadAt = l.Destinations[0].Slug
		if _, ok := l.Destination(domain.DefaultDestination); ok {
			m.ReadAt = domain.DefaultDestination
		}
	}
	destination, ok := l.Destination(m.ReadAt)
	bad.Check(ok, "/read_at", fmt.Sprintf("the rig has no destination %q", short(in.ReadAt)), "one of "+destinationList(l))
	switch {
	case in.Picture != "" && in.Sound != "" && in.First == "" && in.Second == "":
		m.First, m.FirstSig = side(bad, l, "/picture", in.Picture, domain.Picture), domain.Picture
		m.Second, m.SecondSig = side(bad, l, "/sound", in.Sound, domain.Sound), domain.Sound
	case in.First != "" && in.Second != "" && in.Picture == "" && in.Sound == "":
		m.First, m.Second = side(bad, l, "/first", in.First, ""), side(bad, l, "/second", in.Second, "")
		m.FirstSig, m.SecondSig = signals(l, m.First, m.Second)
		bad.Check(m.FirstSig != domain.Sound || m.SecondSig != domain.Picture, "/first", "it is a sound and second a picture", "picture and sound")
	default:
		bad.Add("", "it does not say which two chains were compared", "picture and sound, or first and second")
	}
	if len(*bad) > before {
		return nil
	}
	bad.Check(m.First != m.Second, "/second", "a chain can not be compared with itself", "another chain")
	sounds := m.FirstSig == domain.Sound && m.SecondSig == domain.Sound
	bad.Check(m.Method != domain.Tracks || sounds, "/method", "tracks compares two sound chains", "first and second as sound chains, or another method")
	checkSubjects(bad, l, m)
	return destination
}

func destinationList(l *domain.Layout) string {
	list := string(l.Destinations[0].Slug)
	for _, d := range l.Destinations[1:] {
		list += ", " + string(d.Slug)
	}
	return list
}

func side(bad *domain.Fields, l *domain.Layout, pointer, slug string, signal domain.Signal) domain.Slug {
	if slug == string(domain.LiveChain) {
		return domain.LiveChain
	}
	c, ok := l.Chain(domain.Slug(slug))
	switch {
	case !ok:
		bad.Add(pointer, fmt.Sprintf("the rig has no chain %q", short(slug)), "one of "+chainList(l, signal)+"live")
	case signal != "" && c.Signal != signal:
		bad.Add(pointer, fmt.Sprintf("%s carries %s", c.Slug, c.Signal), "one of "+chainList(l, signal)+"live")
	}
	return domain.Slug(slug)
}

func chainList(l *domain.Layout, signal domain.Signal) string {
	list := ""
	for _, c := range l.Chains {
		if signal == "" || c.Signal == signal {
			list += string(c.Slug) + ", "
		}
	}
	return list
}

// signals returns the signals of two chains; live is seen or heard like the other one.
func signals(l *domain.Layout, first, second domain.Slug) (a, b domain.Signal) {
	of := func(s domain.Slug) domain.Signal {
		if c, ok := l.Chain(s); ok {
			return c.Signal
		}
		return ""
	}
	a, b = of(first), of(second)
	return cmp.Or(a, b), cmp.Or(b, a)
}

// checkSubjects refuses chains that show different things and are not listed
// as a pair at the destination: what they show does not happen together.
func checkSubjects(bad *domain.Fields, l *domain.Layout, m *domain.Measurement) {
	first, ok1 := l.Chain(m.First)
	second, ok2 := l.Chain(m.Second)
	if !ok1 || !ok2 || first.Subject == second.Subject {
		return
	}
	listed := slices.ContainsFunc(l.Pairs, func(p domain.Pair) bool {
		return p.Picture == m.First && p.Sound == m.Second && (p.Destination == "" || p.Destination == m.ReadAt)
	})
	bad.Check(listed, "", fmt.Sprintf("%s shows %s and %s shows %s", m.First, first.Subject, m.Second, second.Subject),
		"two chains of one subject, or list the pair in the rig")
}

// resolveSettings returns the values of all controls that the two chains pass,
// from the request, else as dialled in at the time.
func (d *drafting) resolveSettings(
	bad *domain.Fields, rig *book.Rig, l *domain.Layout, at *domain.Destination, m *domain.Measurement, in []NewSetting,
) []domain.Setting {
	settings := resolveValues(bad, d.book, l, "/settings", in)
	needed := l.ControlsOf(m.First, m.FirstSig, at)
	for _, name := range l.ControlsOf(m.Second, m.SecondSig, at) {
		if !slices.Contains(needed, name) {
			needed = append(needed, name)
		}
	}
	for _, name := range needed {
		if slices.ContainsFunc(settings, func(s domain.Setting) bool { return s.Control == name }) {
			continue
		}
		value, ok := valueAt(d.book, rig, l, name, m.TakenAt)
		if !ok {
			bad.Add("/settings", fmt.Sprintf("it is not known what %q was set to", name),
				fmt.Sprintf(`{"control":%q,"value":...} as read from the dial, or record it with PUT /v1/rigs/%s/settings`, name, rig.Slug))
			continue
		}
		settings = append(settings, domain.Setting{Control: name, Value: value})
	}
	return settings
}

// resolveValues reads values of controls of a layout, each on its grid.
func resolveValues(bad *domain.Fields, b *book.Book, l *domain.Layout, pointer string, in []NewSetting) []domain.Setting {
	placed := l.Controls()
	var settings []domain.Setting
	for i, s := range in {
		at := fmt.Sprintf("%s/%d", pointer, i)
		n := slices.IndexFunc(placed, func(p domain.PlacedControl) bool { return string(p.Use.Name) == s.Control })
		if n < 0 {
			bad.Add(at+"/control", fmt.Sprintf("the rig has no control %q", short(s.Control)), controlList(placed))
			continue
		}
		if slices.ContainsFunc(settings, func(o domain.Setting) bool { return string(o.Control) == s.Control }) {
			bad.Add(at+"/control", "it is given twice", "each control once")
			continue
		}
		value := checkDecimal(bad, at+"/value", s.Value, "")
		control := controlOf(b, placed[n])
		bad.Check(control.OnGrid(value), at+"/value", fmt.Sprintf("%s can not be set to %s", s.Control, value), gridText(control))
		settings = append(settings, domain.Setting{Control: placed[n].Use.Name, Value: value})
	}
	return settings
}

func controlList(placed []domain.PlacedControl) string {
	if len(placed) == 0 {
		return "no settings: the rig has no controls"
	}
	list := "one of"
	for i, p := range placed {
		if i > 0 {
			list += ","
		}
		list += " " + string(p.Use.Name)
	}
	return list
}

func gridText(c *domain.Control) string {
	return fmt.Sprintf("%s to %s in steps of %s %s", c.Min, c.Max, c.Step, c.Unit)
}

// controlOf returns the control of the catalogue that a layout places. Rigs
// refer to parts of devices that are never removed.
func controlOf(b *book.Book, p domain.PlacedControl) *domain.Control {
	d, _ := b.Device(p.Device)
	c, _ := d.ControlByID(p.Use.Control)
	return c
}

// valueAt returns what a control of the layout was set to at an instant: as
// recorded, or the one value that it can have.
func valueAt(b *book.Book, rig *book.Rig, l *domain.Layout, name domain.Slug, at time.Time) (decimal.Decimal, bool) {
	return valueIn(b, l, name, settingsAt(rig, at))
}

// valueNow is valueAt for what is dialled in now. It does not look at the clock,
// so that what follows from it depends on the book alone: the latest row is in
// force, and one that lies in the future does so by the error of some clock.
func valueNow(b *book.Book, rig *book.Rig, l *domain.Layout, name domain.Slug) (decimal.Decimal, bool) {
	return valueIn(b, l, name, settingsNow(rig))
}

func valueIn(b *book.Book, l *domain.Layout, name domain.Slug, row *domain.SettingsInForce) (decimal.Decimal, bool) {
	placed := l.Controls()
	n := slices.IndexFunc(placed, func(p domain.PlacedControl) bool { return p.Use.Name == name })
	if n < 0 {
		return decimal.Decimal{}, false
	}
	control := controlOf(b, placed[n])
	if control.Min.Equal(control.Max) {
		return control.Min, true
	}
	if row == nil {
		return decimal.Decimal{}, false
	}
	for _, s := range row.Values {
		if s.Control == name && control.OnGrid(s.Value) {
			return s.Value, true
		}
	}
	return decimal.Decimal{}, false
}

// settingsAt returns the settings in force at an instant, nil if none were recorded.
func settingsAt(rig *book.Rig, at time.Time) *domain.SettingsInForce {
	for _, row := range slices.Backward(rig.Settings) {
		if !row.At.After(at) {
			return row
		}
	}
	return nil
}

// settingsNow returns the latest settings, nil if none were recorded.
func settingsNow(rig *book.Rig) *domain.SettingsInForce {
	if len(rig.Settings) == 0 {
		return nil
	}
	return rig.Settings[len(rig.Settings)-1]
}
