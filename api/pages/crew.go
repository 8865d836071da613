package pages

import (
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"
)

// A crewPage lets others in and shows who is in.
type crewPage struct {
	Crews []*domain.Crew // for whom one may make a link; one, but for an admin
	Links []accessEntry
	In    []accessEntry
	Once  string
}

// An accessEntry is a link or session in use.
type accessEntry struct {
	*domain.Key
	CrewName string
	Own      bool // the session that asks
}

func showCrew(v *visit) error {
	ctx, r := v.Request().Context(), v.request()
	all, err := v.pages.use.Access(ctx, r)
	if err != nil {
		return err
	}
	page := crewPage{Once: newOnce()}
	if page.Crews, err = v.pages.use.Crews(ctx, r); err != nil {
		return err
	}
	for _, k := range all {
		entry := accessEntry{Key: k, Own: k.ID == r.Caller.Key}
		for _, crew := range page.Crews {
			if crew.ID == k.Crew {
				entry.CrewName = crew.Name
			}
		}
		if k.Purpose == domain.ForJoining {
			page.Links = append(page.Links, entry)
		} else {
			page.In = append(page.In, entry)
		}
	}
	return v.show(http.StatusOK, "crew", page)
}

// A linkPage shows a new link, once.
type linkPage struct {
	Crew      string
	Address   string
	Code      template.HTML
	ExpiresAt time.Time
	Once      bool
}

// JoinAddress is where the link with a secret leads.
func JoinAddress(publicURL, secret string) string {
	return publicURL + "/join?link=" + url.QueryEscape(secret)
}

func makeLink(v *visit) error {
	hours, err := strconv.Atoi(v.form("hours"))
	if err != nil {
		return domain.Errorf(domain.Invalid, "Choose how long one can join with the link.")
	}
	r := v.request()
	r.Once, r.Fingerprint = v.once()
	made, err := v.pages.use.AddJoinLink(v.Request().Context(), r, service.NewJoinLink{
		Crew: v.form("crew"), Label: v.form("label"), Hours: hours, Once: v.form("one") != "",
	})
	if err != nil {
		return err
	}
	page := linkPage{Address: JoinAddress(v.pages.public, made.Text), ExpiresAt: made.ExpiresAt, Once: made.Once}
	page.Crew, _ = v.pages.use.CrewSlug(made.Crew)
	if page.Code, err = qrCode(page.Address, "Code with the link to join"); err != nil {
		return err
	}
	v.Response().Header().Set("Cache-Control", "no-store") // it is shown once
	return v.show(http.StatusOK, "link", page)
}

func endAccess(v *visit) error {
	if err := v.pages.use.EndAccess(v.Request().Context(), v.request(), v.form("access")); err != nil {
		return err
	}
	return v.to("/crew")
}
