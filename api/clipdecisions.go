package api

import (
	"context"

	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A ClipAcceptance says which measurements a clip gives. None: its only segment,
// for the pair that was named when it was sent.
type ClipAcceptance struct {
	Takes []ClipTake `json:"segments" validate:"optional"`
} //	@name	ClipAcceptance

// A ClipTake makes one measurement: of a segment of the result, or of readings
// of a person who stepped through the recording. What is left out is as it was
// said when the clip was sent.
type ClipTake struct {
	Segment    int          `json:"segment" validate:"optional" example:"0"` // of the result, from 0
	Picture    string       `json:"picture" validate:"optional" example:"cam-1"`
	Sound      string       `json:"sound" validate:"optional" example:"lectern"`
	First      string       `json:"first" validate:"optional" example:"hand"`
	Second     string       `json:"second" validate:"optional" example:"lectern"`
	ReadAt     string       `json:"read_at" validate:"optional" example:"programme"`
	CardSource string       `json:"card_source" validate:"optional" example:"tablet-p"`
	Settings   []NewSetting `json:"settings" validate:"optional"`
	DistanceM  *float64     `json:"distance_m" validate:"optional" extensions:"x-nullable" example:"1.2"`
	Method     string       `json:"method" validate:"optional" example:"eye" enums:"eye,clap"`                      // with readings
	Eye        string       `json:"eye" validate:"optional" example:"one-side" enums:"one-side,both-sides,unknown"` // with readings
	FrameRate  rateText     `json:"frame_rate" validate:"optional" swaggertype:"string" example:"29.97"`            // with readings; default the rig's
	Readings   []NewReading `json:"readings" validate:"optional"`                                                   // of a person, in place of a segment
} //	@name	ClipTake

// An AcceptedClip comes with its measurements and what follows from each.
type AcceptedClip struct {
	Clip         Clip    `json:"clip"`
	Measurements []Taken `json:"measurements"` // each as the answer to POST /v1/rigs/{rig}/measurements
} //	@name	AcceptedClip

func (in *ClipAcceptance) toService() service.Acceptance {
	var out service.Acceptance
	for _, t := range in.Takes {
		take := service.AcceptedTake{
			Segment: t.Segment, Picture: t.Picture, Sound: t.Sound, First: t.First, Second: t.Second, ReadAt: t.ReadAt,
			CardSource: t.CardSource, Settings: toSettings(t.Settings), DistanceM: t.DistanceM, Method: t.Method, Eye: t.Eye,
			FrameRate: string(t.FrameRate),
		}
		for _, r := range t.Readings {
			take.Readings = append(take.Readings, service.NewReading{
				Frames: string(r.Frames), Heard: r.Heard, OffsetMS: r.OffsetMS, UMS: r.UMS, AtS: r.AtS,
			})
		}
		out.Takes = append(out.Takes, take)
	}
	return out
}

// acceptClip puts what a clip gives into the book.
//
//	@Summary		Accept a clip: put its measurements into the book
//	@Description	All measurements of a clip share one power-up; all are stored or none. A repeat gets the first answer.
//	@Tags			clips
//	@Accept			json
//	@Produce		json
//	@Security		bearer
//	@Param			clip									path		string			true	"identifier"
//	@Param			If-Match								header		string			false	"ETag of the clip that was looked at"
//	@Param			acceptance								body		ClipAcceptance	true	"which chains each segment compares"
//	@Success		200										{object}	AcceptedClip
//	@Failure		400,401,403,404,409,412,413,415,422,428	{object}	Problem
//	@Router			/v1/clips/{clip}/accept [put]
func (s *server) acceptClip(c echo.Context) error {
	var in ClipAcceptance
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	accepted, err := s.clips.AcceptClip(c.Request().Context(), r, c.Param("clip"), ifMatch(c), in.toService())
	if err != nil {
		return err
	}
	out := AcceptedClip{Measurements: []Taken{}}
	if out.Clip, err = s.fromClip(accepted.Clip); err != nil {
		return err
	}
	for _, t := range accepted.Taken {
		taken, err := s.fromTaken(t)
		if err != nil {
			return err
		}
		out.Measurements = append(out.Measurements, taken)
	}
	return stored(c, accepted.Clip.Row, out)
}

// rejectClip notes that nothing is taken of a clip.
//
//	@Summary	Reject a clip
//	@Tags		clips
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		clip									path		string	true	"identifier"
//	@Param		If-Match								header		string	false	"ETag of the clip that was looked at"
//	@Param		reason									body		Reason	true	"why"
//	@Success	200										{object}	Clip
//	@Failure	400,401,403,404,409,412,413,415,422,428	{object}	Problem
//	@Router		/v1/clips/{clip}/reject [put]
func (s *server) rejectClip(c echo.Context) error {
	var in Reason
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.clips.RejectClip(c.Request().Context(), r, c.Param("clip"), ifMatch(c), in.Reason)
	if err != nil {
		return err
	}
	return s.answerClip(c, v)
}

// ClipOptions say what to look at. What is left out is found by the analysis.
type ClipOptions struct {
	Method     string           `json:"method" validate:"optional" example:"clip" enums:"clip,tracks"` // default as before
	Segments   []ClipSpan       `json:"segments" validate:"optional"`                                  // measured one by one
	FirstTrack *recording.Track `json:"first_track" validate:"optional" extensions:"x-nullable"`       // tracks: the first
	SoundTrack *recording.Track `json:"sound_track" validate:"optional" extensions:"x-nullable"`       // the one with the beeps, or the second
} //	@name	ClipOptions

// A ClipSpan is a stretch of a recording.
type ClipSpan struct {
	FromS float64 `json:"from_s" example:"12.5"`
	ToS   float64 `json:"to_s" example:"30"`
} //	@name	ClipSpan

// analyseClip has a clip analysed again.
//
//	@Summary	Analyse a clip again, with other options
//	@Tags		clips
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		clip									path		string		true	"identifier"
//	@Param		If-Match								header		string		false	"ETag of the clip that was looked at"
//	@Param		options									body		ClipOptions	true	"what to look at"
//	@Success	200										{object}	Clip
//	@Failure	400,401,403,404,409,412,413,415,422,428	{object}	Problem
//	@Router		/v1/clips/{clip}/analyse [put]
func (s *server) analyseClip(c echo.Context) error {
	var in ClipOptions
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	options := service.AnalysisOptions{Method: recording.Method(in.Method), First: in.FirstTrack, Sound: in.SoundTrack}
	for _, span := range in.Segments {
		options.Segments = append(options.Segments, service.Span(span))
	}
	v, err := s.clips.AnalyseClip(c.Request().Context(), r, c.Param("clip"), ifMatch(c), options)
	if err != nil {
		return err
	}
	return s.answerClip(c, v)
}

// cancelClip calls an analysis off.
//
//	@Summary	Call the analysis of a clip off
//	@Tags		clips
//	@Produce	json
//	@Security	bearer
//	@Param		clip							path		string	true	"identifier"
//	@Param		If-Match						header		string	false	"ETag of the clip, or *"
//	@Success	200								{object}	Clip
//	@Failure	401,403,404,409,412,415,422,428	{object}	Problem
//	@Router		/v1/clips/{clip}/cancel [put]
func (s *server) cancelClip(c echo.Context) error { return s.endClip(c, s.clips.CancelClip) }

// deleteClip deletes a recording.
//
//	@Summary		Delete the recording of a clip
//	@Description	A clip that was accepted stays as the evidence of its measurements, without its recording; any other is gone.
//	@Tags			clips
//	@Produce		json
//	@Security		bearer
//	@Param			clip							path		string	true	"identifier"
//	@Param			If-Match						header		string	false	"ETag of the clip, or *"
//	@Success		200								{object}	Clip
//	@Failure		401,403,404,409,412,415,422,428	{object}	Problem
//	@Router			/v1/clips/{clip} [delete]
func (s *server) deleteClip(c echo.Context) error { return s.endClip(c, s.clips.DeleteClip) }

func (s *server) endClip(
	c echo.Context, end func(context.Context, service.Request, string, service.Match) (service.ClipView, error),
) error {
	v, err := end(c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("clip"), ifMatch(c))
	if err != nil {
		return err
	}
	return s.answerClip(c, v)
}
