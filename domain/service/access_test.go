package service_test

import (
	"testing"

	"delaybook/domain"
	"delaybook/domain/service"
)

// TestWhoMayDoWhat walks every write of a rig through every role and relation
// to its crew. Reading is in TestWhoSeesWhat.
func TestWhoMayDoWhat(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	shown := hall()
	shown.Slug, shown.Visibility = "shown", "company"
	if _, err := b.AddRig(t.Context(), as(domain.Editor, b.red), shown); err != nil {
		t.Fatal(err)
	}
	taken, err := b.AddMeasurement(t.Context(), as(domain.Editor, b.red), "hall", clap("5"))
	if err != nil {
		t.Fatal(err)
	}
	id := taken.Measurement.ID.String()
	nobody := domain.Crew{}
	anyCopy := service.Match{Given: true, Any: true}
	writes := map[string]func(r service.Request, rig string) error{
		"measure": func(r service.Request, rig string) error {
			_, err := b.AddMeasurement(t.Context(), r, rig, clap("5"))
			return err
		},
		"dial": func(r service.Request, rig string) error {
			_, err := b.PutSettings(t.Context(), r, rig, service.NewSettings{Settings: clap("5").Settings})
			return err
		},
		"replace": func(r service.Request, rig string) error {
			in := hall()
			in.Slug = rig
			_, err := b.ReplaceRig(t.Context(), r, "red-van."+rig, anyCopy, in)
			return err
		},
		"strike": func(r service.Request, rig string) error {
			if rig == "shown" {
				return nil
			}
			_, err := b.StrikeMeasurement(t.Context(), r, id, "a reason")
			return err
		},
	}
	for _, c := range []struct {
		who   string
		r     service.Request
		write string
		rig   string
		want  domain.Code // empty: allowed
	}{
		{"a reader of the crew", as(domain.Reader, b.red), "measure", "hall", domain.Denied},
		{"a tech of the crew", as(domain.Tech, b.red), "measure", "hall", ""},
		{"a tech of another crew", as(domain.Tech, b.blue), "measure", "hall", domain.NotFound},
		{"a tech of another crew", as(domain.Tech, b.blue), "measure", "shown", domain.Denied},
		{"a tech of no crew", as(domain.Tech, nobody), "measure", "hall", domain.NotFound},
		{"nobody", service.Request{}, "measure", "hall", domain.Denied},
		{"an admin", as(domain.Admin, b.blue), "measure", "hall", ""},
		{"a tech of the crew", as(domain.Tech, b.red), "dial", "hall", domain.Denied},
		{"an editor of the crew", as(domain.Editor, b.red), "dial", "hall", ""},
		{"an editor of another crew", as(domain.Editor, b.blue), "dial", "hall", domain.NotFound},
		{"an editor of another crew", as(domain.Editor, b.blue), "dial", "shown", domain.Denied},
		{"a tech of the crew", as(domain.Tech, b.red), "replace", "hall", domain.Denied},
		{"an editor of another crew", as(domain.Editor, b.blue), "replace", "hall", domain.NotFound},
		{"an editor of another crew", as(domain.Editor, b.blue), "replace", "shown", domain.Denied},
		{"an editor of another crew", as(domain.Editor, b.blue), "strike", "hall", domain.NotFound},
		{"an editor of the crew", as(domain.Editor, b.red), "strike", "hall", ""},
	} {
		err := writes[c.write](c.r, c.rig)
		if c.want == "" && err != nil || c.want != "" && code(t, err) != c.want {
			t.Errorf("%s, %s %s: got %v, want %q", c.who, c.write, c.rig, err, c.want)
		}
	}
}

func TestWhoSeesWhat(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	for slug, visibility := range map[string]string{"to-all": "company", "to-blue": "listed"} {
		in := hall()
		in.Slug, in.Visibility = slug, visibility
		if visibility == "listed" {
			in.VisibleTo = []string{"blue-van"}
		}
		if _, err := b.AddRig(t.Context(), as(domain.Editor, b.red), in); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		who  string
		r    service.Request
		want []string
	}{
		{"the crew", as(domain.Reader, b.red), []string{"hall", "to-all", "to-blue"}},
		{"a listed crew", as(domain.Editor, b.blue), []string{"to-all", "to-blue"}},
		{"a key of no crew", as(domain.Editor, domain.Crew{}), []string{"to-all"}},
		{"an admin", operator(), []string{"hall", "to-all", "to-blue"}},
	} {
		rigs, err := b.Rigs(t.Context(), c.r, "", "")
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]bool{}
		for _, r := range rigs {
			got[string(r.Slug)] = true
		}
		for _, slug := range []string{"hall", "to-all", "to-blue"} {
			want := false
			for _, w := range c.want {
				want = want || w == slug
			}
			_, err := b.Rig(t.Context(), c.r, "red-van."+slug)
			if got[slug] != want || (err == nil) != want {
				t.Errorf("%s and %s: listed %t, found %v, want %t", c.who, slug, got[slug], err, want)
			}
		}
	}
	if _, err := b.Rigs(t.Context(), service.Request{}, "", ""); code(t, err) != domain.Denied {
		t.Errorf("nobody: got %v, want it refused", err)
	}
}
