package pages_test

import (
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/service"
)

// kept is true once the phone keeps a page for a time without a network.
func kept(path string) string {
	return `(await Promise.all((await caches.keys()).filter((n) => n.startsWith("pages ")).map(async (n) =>
		(await caches.open(n)).match(location.origin + "` + path + `")))).some((r) => r)`
}

func TestPagesLastSeenAreReadWithoutANetwork(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/red-van.harbour-hall")
	phone.Within(kept("/rigs/red-van.harbour-hall"))
	phone.Within(kept("/rigs/red-van.harbour-hall/measure"))

	phone.Offline()
	phone.Open("/rigs/red-van.harbour-hall")
	phone.Want("As of", "There is no network", "What to set")
	phone.Open("/rigs/van-kit")
	phone.Soon("never opened here", "Harbour Hall")

	phone.Online()
	phone.Open("/rigs/red-van.harbour-hall")
	if page := phone.Page(); contains(page, "As of") {
		t.Errorf("with a network the page is as of before:\n%s", page)
	}
}

// What the service showed one session is not there for the next.
func TestPagesAreForgottenAtSignOut(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/red-van.harbour-hall")
	phone.Within(kept("/rigs/red-van.harbour-hall"))
	phone.Open("/me")
	phone.Follow(browsertest.Named("Sign out"))
	phone.Within(`!(await caches.keys()).some((n) => n.startsWith("pages "))`)

	phone.Offline()
	phone.Open("/rigs/red-van.harbour-hall")
	phone.Soon("never opened here", "None yet")
}

// A session that an editor ended leaves nothing either.
func TestPagesAreForgottenWhenASessionEnds(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs")
	phone.Within(kept("/rigs"))
	c.endSessions(t)
	phone.Open("/rigs")
	phone.Want("Sign in")
	phone.Within(`!(await caches.keys()).some((n) => n.startsWith("pages "))`)
}

// endSessions ends the sessions of all who joined the red van.
func (c *company) endSessions(t *testing.T) {
	t.Helper()
	all, err := c.Use.Access(t.Context(), c.editor(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range all {
		r := c.editor(t)
		if key.Label == "" {
			continue
		}
		if err := c.Use.EndAccess(t.Context(), service.Request{Caller: r.Caller}, key.Prefix); err != nil {
			t.Fatal(err)
		}
	}
}
