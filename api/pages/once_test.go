package pages_test

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"
)

// A form that is sent again, by a second tap or from a queue, counts once; the
// same form with other words is refused.
func TestAFormCountsOnce(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	cookie := c.send(t, http.MethodPost, "/sign-in", "key="+c.keys.RedVan).Cookies()[0]
	post := func(path string, form url.Values) int {
		t.Helper()
		return c.send(t, http.MethodPost, path, form.Encode(), "Cookie", cookie.Name+"="+cookie.Value).StatusCode
	}
	plan := strconv.FormatInt(int64(c.Use.Version()), 10)
	dialled := url.Values{"client_id": {"0b7ff1f6-94a5-4f5f-8d0e-5a4b5e0a4d11"}, "plan": {plan}}
	link := url.Values{"client_id": {"0b7ff1f6-94a5-4f5f-8d0e-5a4b5e0a4d12"}, "hours": {"1"}}
	for _, first := range []int{0, 1} {
		if status := post("/rigs/red-van.harbour-hall/dialled", dialled); status != http.StatusSeeOther {
			t.Errorf("dialled in, time %d: status %d", first+1, status)
		}
	}
	rig, err := c.Use.Rig(t.Context(), c.editor(t), "harbour-hall")
	if err != nil {
		t.Fatal(err)
	}
	sent := 0
	for _, row := range rig.Settings {
		if strconv.FormatInt(int64(row.Plan), 10) == plan {
			sent++
		}
	}
	if sent != 1 {
		t.Errorf("%d rows of settings of one form", sent)
	}
	// The secret of a link was shown once and can not be shown again.
	if status := post("/crew/links", link); status != http.StatusOK {
		t.Errorf("a link: status %d", status)
	}
	if status := post("/crew/links", link); status != http.StatusConflict {
		t.Errorf("the same link again: status %d", status)
	}
	link.Set("hours", "12")
	if status := post("/crew/links", link); status != http.StatusUnprocessableEntity {
		t.Errorf("other words under the same identifier: status %d", status)
	}
}
