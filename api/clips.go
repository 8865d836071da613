package api

import (
	"net/http"
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A Clip is a recording that was sent in and what became of it.
type Clip struct {
	ID           string              `json:"id" format:"uuid"`
	ClientID     string              `json:"client_id" format:"uuid"`
	Rig          string              `json:"rig" example:"red-van.harbour-hall"`
	State        string              `json:"state" example:"done" enums:"uploaded,queued,analysing,done,refused,failed,cancelled,accepted,rejected,deleted"`
	Method       string              `json:"method" example:"clip" enums:"clip,tracks,eye,clap"`
	Files        []ClipFile          `json:"files"`
	RecordingIs  string              `json:"recording" example:"kept" enums:"kept,deleted"` // deleted after keep_until, or when asked
	KeepUntil    time.Time           `json:"keep_until" format:"date-time"`
	Picture      *string             `json:"picture" extensions:"x-nullable" example:"cam-1"`
	Sound        *string             `json:"sound" extensions:"x-nullable" example:"lectern"`
	First        *string             `json:"first" extensions:"x-nullable" example:"hand"`
	Second       *string             `json:"second" extensions:"x-nullable" example:"lectern"`
	ReadAt       *string             `json:"read_at" extensions:"x-nullable" example:"programme"`
	CardSource   *string             `json:"card_source" extensions:"x-nullable" example:"tablet-p"`
	PowerUp      *string             `json:"power_up" extensions:"x-nullable" example:"new"`
	Settings     []Setting           `json:"settings"` // dialled in, as far as it was said
	TakenAt      string              `json:"taken_at" format:"date-time"`
	Note         string              `json:"note"`
	By           string              `json:"by" example:"tablet in the red van"`
	CreatedAt    time.Time           `json:"created_at" format:"date-time"`
	Attempt      int                 `json:"attempt" example:"1"` // of the analysis; 0: none was asked for
	Progress     float64             `json:"progress" example:"0.4"`
	EstimateS    *float64            `json:"estimate_s" extensions:"x-nullable" example:"35"` // that the analysis takes in all; null: not known yet
	StartedAt    *time.Time          `json:"started_at" extensions:"x-nullable" format:"date-time"`
	EndedAt      *time.Time          `json:"ended_at" extensions:"x-nullable" format:"date-time"`
	Failure      *string             `json:"failure" extensions:"x-nullable"`  // why the analysis broke off
	Result       *recording.Result   `json:"result" extensions:"x-nullable"`   // in a list with its first segment only
	Evidence     *recording.Evidence `json:"evidence" extensions:"x-nullable"` // two curves on one axis; null in a list
	Decision     *ClipDecision       `json:"decision" extensions:"x-nullable"`
	Measurements []string            `json:"measurements"`        // identifiers of what was accepted
	Version      domain.Version      `json:"version" example:"4"` // of this clip
} //	@name	Clip

// A ClipFile is one file of a clip as it was sent.
type ClipFile struct {
	Name   string `json:"name" example:"VID_0412.mp4"`
	Size   int64  `json:"size" example:"18874368"` // bytes
	SHA256 string `json:"sha256"`
} //	@name	ClipFile

// A ClipDecision says who accepted or rejected a clip.
type ClipDecision struct {
	At     time.Time `json:"at" format:"date-time"`
	By     string    `json:"by" example:"tablet in the red van"`
	Reason string    `json:"reason"` // of a rejection
} //	@name	ClipDecision

func (s *server) fromClip(v service.ClipView) (Clip, error) {
	ask := &v.Ask
	out := Clip{
		ID: v.ID.String(), ClientID: v.ClientID.String(), Rig: v.Name(), State: string(v.State), Method: ask.Method, Files: []ClipFile{},
		RecordingIs: "kept", KeepUntil: v.KeepUntil, Picture: orNull(ask.Picture), Sound: orNull(ask.Sound), First: orNull(ask.First),
		Second: orNull(ask.Second), ReadAt: orNull(ask.ReadAt), CardSource: orNull(ask.CardSource), PowerUp: orNull(ask.PowerUp),
		Settings: []Setting{}, TakenAt: ask.TakenAt, Note: ask.Note, By: s.use.KeyLabel(v.By), CreatedAt: v.CreatedAt, Attempt: v.Attempt,
		Progress: v.Progress, EstimateS: v.EstimateS, StartedAt: v.StartedAt, EndedAt: v.EndedAt, Failure: orNull(v.Failure),
		Result: v.Result, Evidence: v.Evidence, Measurements: []string{}, Version: v.Row,
	}
	if !v.Kept {
		out.RecordingIs = "deleted"
	}
	for _, f := range v.Files {
		sum, err := f.SHA256.MarshalText()
		if err != nil {
			return out, err
		}
		out.Files = append(out.Files, ClipFile{f.Name, f.Size, string(sum)})
	}
	for _, x := range ask.Settings {
		out.Settings = append(out.Settings, Setting{Control: x.Control, Value: number(x.Value)})
	}
	for _, id := range v.Measurements {
		out.Measurements = append(out.Measurements, id.String())
	}
	if d := v.Decision; d != nil {
		out.Decision = &ClipDecision{At: d.At, By: s.use.KeyLabel(d.By), Reason: d.Reason}
	}
	return out, nil
}

func orNull(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}

// showClip returns one clip.
//
//	@Summary	Show a clip: how far its analysis is, and its result
//	@Tags		clips
//	@Produce	json
//	@Security	bearer
//	@Param		clip		path		string	true	"identifier"
//	@Success	200			{object}	Clip
//	@Success	304			"unchanged"
//	@Failure	401,404,422	{object}	Problem
//	@Router		/v1/clips/{clip} [get]
func (s *server) showClip(c echo.Context) error {
	v, err := s.clips.Clip(c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("clip"))
	if err != nil {
		return err
	}
	if !v.State.Running() { // else its progress changes without its version
		if done, err := unchangedStored(c, v.Row); done || err != nil {
			return err
		}
	}
	return s.answerClip(c, v)
}

func (s *server) answerClip(c echo.Context, v service.ClipView) error {
	out, err := s.fromClip(v)
	if err != nil {
		return err
	}
	return stored(c, v.Row, out)
}

// listClips lists the clips of a rig, newest first.
//
//	@Summary	List the clips of a rig
//	@Tags		clips
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		page_size		query		int		false	"items per page, 1 to 200"
//	@Param		after			query		string	false	"next of the page before"
//	@Success	200				{object}	List[Clip]
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/clips [get]
func (s *server) listClips(c echo.Context) error {
	all, err := s.clips.OfRig(c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("rig"))
	if err != nil {
		return err
	}
	key := func(v service.ClipView) string {
		return newestFirst(domain.Version(v.CreatedAt.UnixMicro()), v.ID.UUID)
	}
	page, err := paged(c, all, key, s.fromClip)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "private, no-cache")
	return answer(c, http.StatusOK, page)
}
