package api

import (
	"net/http"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// NewSettings is what was dialled in on a rig.
type NewSettings struct {
	Settings    []NewSetting `json:"settings"`                                                                // controls left out keep what is recorded
	At          string       `json:"at" validate:"optional" format:"date-time"`                               // default now
	PlanVersion *int64       `json:"plan_version" validate:"optional" extensions:"x-nullable" example:"1841"` // book_version of the plan that was dialled in
} //	@name	NewSettings

// Settings is what is dialled in on a rig.
type Settings struct {
	Rig         string            `json:"rig" example:"red-van.harbour-hall"`
	BookVersion domain.Version    `json:"book_version" example:"1842"`
	Revision    int               `json:"revision" example:"3"`
	At          *time.Time        `json:"at" format:"date-time" extensions:"x-nullable"` // null: nothing was ever recorded
	By          string            `json:"by" example:"Red van, lead technician"`
	PlanVersion *domain.Version   `json:"plan_version" extensions:"x-nullable" example:"1841"`
	Settings    []SettingInForce  `json:"settings"`
	Replaced    *ReplacedSettings `json:"replaced" extensions:"x-nullable"` // after a write
} //	@name	Settings

// ReplacedSettings is what was dialled in before.
type ReplacedSettings struct {
	At          time.Time        `json:"at" format:"date-time"`
	By          string           `json:"by" example:"Red van, lead technician"`
	PlanVersion *domain.Version  `json:"plan_version" extensions:"x-nullable" example:"1790"`
	Settings    []SettingInForce `json:"settings"`
} //	@name	ReplacedSettings

// A SettingInForce is the value of one control.
type SettingInForce struct {
	Control string   `json:"control" example:"lectern-delay"`
	Value   number   `json:"value" swaggertype:"number" example:"6"`
	Unit    string   `json:"unit" example:"frame" enums:"frame,ms,sample"`
	MS      float64  `json:"ms" example:"200.2"`
	Where   string   `json:"where" example:"audio page, input 5"`
	Chains  []string `json:"chains"`
} //	@name	SettingInForce

func (s *server) fromSettings(v service.SettingsView) Settings {
	out := Settings{
		Rig: v.RigName(), BookVersion: v.Book.Version(), Revision: v.Rig.Current().Number, Settings: []SettingInForce{},
	}
	if v.Now != nil {
		out.At, out.Revision, out.By = &v.Now.At, v.Now.Revision, s.use.KeyLabel(v.Now.By)
		out.PlanVersion, out.Settings = planVersion(v.Now), inForce(v, v.Now)
	}
	if v.Replaced != nil {
		out.Replaced = &ReplacedSettings{
			At: v.Replaced.At, By: s.use.KeyLabel(v.Replaced.By), PlanVersion: planVersion(v.Replaced), Settings: inForce(v, v.Replaced),
		}
	}
	return out
}

func planVersion(row *domain.SettingsInForce) *domain.Version {
	if row.Plan == 0 {
		return nil
	}
	return &row.Plan
}

func inForce(v service.SettingsView, row *domain.SettingsInForce) []SettingInForce {
	out := []SettingInForce{}
	for _, x := range v.Describe(row) {
		out = append(out, SettingInForce{
			Control: string(x.Control), Value: exact(x.Value), Unit: string(x.On.Unit), MS: ms(x.MS), Where: x.On.Where,
			Chains: slugs(x.Placed.Chains),
		})
	}
	return out
}

func slugs(list []domain.Slug) []string {
	out := []string{}
	for _, s := range list {
		out = append(out, string(s))
	}
	return out
}

// showSettings shows what is dialled in on a rig.
//
//	@Summary	Show what is dialled in
//	@Tags		rigs
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		on				query		string	false	"what was dialled in at this instant; default now"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	Settings
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/settings [get]
func (s *server) showSettings(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	var on time.Time
	if text := c.QueryParam("on"); text != "" {
		if on, err = time.Parse(time.RFC3339, text); err != nil {
			return badQuery("on", "it is not an instant", "date and time with offset, such as 2026-11-20T18:04:00+01:00")
		}
	}
	v, err := s.use.Settings(c.Request().Context(), r, c.Param("rig"), on)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, s.fromSettings(v))
}

// putSettings records what is dialled in from an instant on.
//
//	@Summary	Record what is dialled in
//	@Tags		rigs
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		rig								path		string		true	"slug, CREW.SLUG or identifier"
//	@Param		Idempotency-Key					header		string		false	"makes the request safe to repeat"
//	@Param		settings						body		NewSettings	true	"what is dialled in"
//	@Success	200								{object}	Settings
//	@Failure	400,401,403,404,409,413,415,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/settings [put]
func (s *server) putSettings(c echo.Context) error {
	var in NewSettings
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.use.PutSettings(c.Request().Context(), r, c.Param("rig"), service.NewSettings{
		Settings: toSettings(in.Settings), At: in.At, PlanVersion: in.PlanVersion,
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, s.fromSettings(v))
}
