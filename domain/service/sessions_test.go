package service_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"
)

func (b *bench) link(t *testing.T, in service.NewJoinLink) service.MadeKey {
	t.Helper()
	made, err := b.AddJoinLink(t.Context(), as(domain.Editor, b.red), in)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func (b *bench) join(t *testing.T, link, name string) service.MadeKey {
	t.Helper()
	made, err := b.Join(t.Context(), link, name)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func TestWhoJoinsIsATechOfTheCrewUntilTheSessionEnds(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	link := b.link(t, service.NewJoinLink{Label: "tonight"})
	made := b.join(t, link.Text, "Sam Winter")
	session, err := b.Session(t.Context(), made.Text)
	if err != nil {
		t.Fatal(err)
	}
	if session.Caller.Role != domain.Tech || session.Crew.ID != b.red.ID || session.Name != "Sam Winter" {
		t.Errorf("joined as %+v", session)
	}
	r := service.Request{Caller: session.Caller}
	taken, err := b.AddMeasurement(t.Context(), r, "hall", clap("5"))
	if err != nil {
		t.Fatal(err)
	}
	if who := b.KeyLabel(taken.Measurement.By); who != "Sam Winter" {
		t.Errorf("measured by %q", who)
	}
	*b.clock = b.clock.Add(service.SessionFor - time.Second)
	if _, err := b.Session(t.Context(), made.Text); err != nil {
		t.Errorf("a second before the end: %v", err)
	}
	*b.clock = b.clock.Add(time.Second)
	if _, err := b.Session(t.Context(), made.Text); code(t, err) != domain.NoKey {
		t.Errorf("at the end: %v", err)
	}
}

// Each text is good for what it was made for and nothing else.
func TestAKeyOfOnePurposeServesNoOther(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	link := b.link(t, service.NewJoinLink{})
	session := b.join(t, link.Text, "Sam")
	key, err := b.AddKey(t.Context(), operator(), service.NewKey{Role: "admin"})
	if err != nil {
		t.Fatal(err)
	}
	for what, try := range map[string]func() error{
		"a session as a key":     func() error { _, err := b.Authenticate(t.Context(), session.Text); return err },
		"a link as a key":        func() error { _, err := b.Authenticate(t.Context(), link.Text); return err },
		"a key as a session":     func() error { _, err := b.Session(t.Context(), key.Text); return err },
		"a link as a session":    func() error { _, err := b.Session(t.Context(), link.Text); return err },
		"a session to sign in":   func() error { _, err := b.SignIn(t.Context(), session.Text); return err },
		"a key to join":          func() error { _, err := b.Join(t.Context(), key.Text, "Sam"); return err },
		"a session to join":      func() error { _, err := b.Join(t.Context(), session.Text, "Sam"); return err },
		"with another's mark":    func() error { _, err := b.Authenticate(t.Context(), "dlb"+session.Text[3:]); return err },
		"a cut session":          func() error { _, err := b.Session(t.Context(), session.Text[:len(session.Text)-1]); return err },
		"no session":             func() error { _, err := b.Session(t.Context(), ""); return err },
		"a link of another mark": func() error { _, err := b.Join(t.Context(), "dlj"+session.Text[3:], "Sam"); return err },
	} {
		if err := try(); err == nil {
			t.Errorf("%s: let in", what)
		}
	}
}

func TestALinkThatIsGoodOnceIsUsedUpByJoining(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	link := b.link(t, service.NewJoinLink{Once: true})
	for range 2 { // looking uses nothing up
		if _, err := b.Joining(t.Context(), link.Text); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.Join(t.Context(), link.Text, " "); code(t, err) != domain.Invalid {
		t.Errorf("without a name: %v", err)
	}
	first := b.join(t, link.Text, "Sam")
	if _, err := b.Join(t.Context(), link.Text, "Kim"); code(t, err) != domain.NotFound {
		t.Errorf("a second person: %v", err)
	}
	if _, err := b.Session(t.Context(), first.Text); err != nil {
		t.Errorf("the first person is out: %v", err)
	}
}

// Many who tap at once: the book's lock lets one of them in.
func TestALinkThatIsGoodOnceLetsOneOfManyIn(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	link := b.link(t, service.NewJoinLink{Once: true})
	var in atomic.Int32
	var all sync.WaitGroup
	for range 16 {
		all.Go(func() {
			if _, err := b.Join(t.Context(), link.Text, "Sam"); err == nil {
				in.Add(1)
			}
		})
	}
	all.Wait()
	if got := in.Load(); got != 1 {
		t.Errorf("%d got in", got)
	}
}

func TestALinkEndsInTimeAndByItsCrew(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	link := b.link(t, service.NewJoinLink{Hours: 1})
	for who, r := range map[string]service.Request{
		"a tech of the crew":        as(domain.Tech, b.red),
		"an editor of another crew": as(domain.Editor, b.blue),
		"an editor of no crew":      as(domain.Editor, domain.Crew{}),
	} {
		if err := b.EndAccess(t.Context(), r, link.Prefix); code(t, err) != domain.NotFound {
			t.Errorf("%s ends it: %v", who, err)
		}
	}
	session := b.join(t, link.Text, "Sam")
	*b.clock = b.clock.Add(time.Hour)
	if _, err := b.Joining(t.Context(), link.Text); code(t, err) != domain.NotFound {
		t.Errorf("after its hour: %v", err)
	}
	if err := b.EndAccess(t.Context(), as(domain.Editor, b.red), session.Prefix); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Session(t.Context(), session.Text); code(t, err) != domain.NoKey {
		t.Errorf("an ended session: %v", err)
	}
	all, err := b.Access(t.Context(), as(domain.Editor, b.red))
	if err != nil || len(all) != 0 {
		t.Errorf("in use: %v, %v", all, err)
	}
}

func TestAnEditorMakesLinksForTheirOwnCrewOnly(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	for _, c := range []struct {
		who  string
		r    service.Request
		in   service.NewJoinLink
		want domain.Code
	}{
		{"a tech", as(domain.Tech, b.red), service.NewJoinLink{}, domain.Denied},
		{"an editor for another crew", as(domain.Editor, b.red), service.NewJoinLink{Crew: string(b.blue.Slug)}, domain.Invalid},
		{"an editor of no crew", as(domain.Editor, domain.Crew{}), service.NewJoinLink{}, domain.Invalid},
		{"for longer than a week", as(domain.Editor, b.red), service.NewJoinLink{Hours: service.MaxJoinHours + 1}, domain.Invalid},
	} {
		if _, err := b.AddJoinLink(t.Context(), c.r, c.in); code(t, err) != c.want {
			t.Errorf("%s: %v, want %s", c.who, err, c.want)
		}
	}
	if _, err := b.AddJoinLink(t.Context(), operator(), service.NewJoinLink{Crew: string(b.blue.Slug)}); err != nil {
		t.Errorf("an admin: %v", err)
	}
}

// A session that a key opened ends with the key.
func TestRevokingAKeyEndsItsSessions(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	key, err := b.AddKey(t.Context(), operator(), service.NewKey{Role: "editor", Crew: string(b.red.Slug), Label: "laptop"})
	if err != nil {
		t.Fatal(err)
	}
	session, err := b.SignIn(t.Context(), key.Text)
	if err != nil {
		t.Fatal(err)
	}
	if who, err := b.Session(t.Context(), session.Text); err != nil || who.Caller.Role != domain.Editor || who.Name != "laptop" {
		t.Fatalf("%+v, %v", who, err)
	}
	if err := b.RevokeKey(t.Context(), operator(), key.Prefix); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Session(t.Context(), session.Text); code(t, err) != domain.NoKey {
		t.Errorf("got %v", err)
	}
	// Keys that scripts hold are not listed among what editors end, nor the other way round.
	keys, err := b.Keys(t.Context(), operator())
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range keys {
		if k.Purpose != domain.ForRequests {
			t.Errorf("%s is listed as a key", k.Purpose)
		}
	}
}
