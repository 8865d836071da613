package pages_test

import (
	"net/http"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/service"
)

func TestALinkIsOpenedByPreviewsAndUsedByAPerson(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	link, err := c.Use.AddJoinLink(t.Context(), c.editor(t), service.NewJoinLink{Once: true})
	if err != nil {
		t.Fatal(err)
	}
	at := "/join?link=" + link.Text
	preview := browsertest.NewPhone(t, c.Site)
	preview.Open(at)
	preview.Want("Join Red van")

	phone := browsertest.NewPhone(t, c.Site)
	phone.Open(at)
	phone.Type("#name", "Sam")
	phone.Follow(browsertest.Named("Join"))
	if got := phone.Path(); got != "/rigs" {
		t.Fatalf("joining led to %s", got)
	}
	phone.Want("Rigs of Red van", "Harbour Hall")
	phone.Open("/me")
	phone.Want("Sam", "as tech")

	// Once means once.
	if status := preview.Open(at); status != http.StatusNotFound {
		t.Errorf("a used link: status %d", status)
	}
	preview.Want("ended")
}

func TestSigningOutEndsTheSession(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.Open("/me")
	phone.Want("Sign in")
	phone.Type("#key", "dlb_wrong_key")
	phone.Follow(browsertest.Named("Sign in"))
	phone.Want("The key is not known")
	phone.Type("#key", c.keys.RedVan)
	phone.Follow(browsertest.Named("Sign in"))
	if got := phone.Path(); got != "/me" {
		t.Fatalf("signing in led to %s, want where one came from", got)
	}
	phone.Want("Red van")
	phone.Follow(browsertest.Named("Sign out"))
	phone.Open("/rigs")
	phone.Want("paste your key")
}
