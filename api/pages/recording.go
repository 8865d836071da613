package pages

import (
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// A recordPage is the form for a recording, and the recordings of the rig.
type recordPage struct {
	*measurePage
	Clips []clipLine
}

// A clipLine is a recording in a list.
type clipLine struct {
	ID   string
	Name string
	At   time.Time
	Text string

	Method string
}

// clipStates say how a recording stands.
var clipStates = map[service.ClipState]string{
	service.ClipUploaded: "here, to be stepped by eye", service.ClipQueued: "waits for its analysis", service.ClipAnalysing: "is being analysed",
	service.ClipDone: "measured: look at it and accept or reject it", service.ClipRefused: "gives no number", service.ClipFailed: "the analysis broke off",
	service.ClipCancelled: "the analysis was called off", service.ClipAccepted: "in the book", service.ClipRejected: "rejected",
	service.ClipDeleted: "deleted",
}

func (v *visit) recordPage() (*recordPage, error) {
	form, err := v.measurePage()
	if err != nil {
		return nil, err
	}
	form.Entry.Method = string(domain.Clip)
	page := &recordPage{measurePage: form}
	clips, err := v.pages.clips.OfRig(v.Request().Context(), v.request(), form.ID.String())
	if err != nil {
		return nil, err
	}
	const shown = 20
	for _, c := range clips[:min(len(clips), shown)] {
		text := clipStates[c.State]
		if c.State == service.ClipUploaded && c.Options.Method == recording.ByTracks {
			text = "waits for its second track"
		}
		page.Clips = append(page.Clips, clipLine{ID: c.ID.String(), Name: clipName(c), At: c.CreatedAt, Text: text, Method: c.Ask.Method})
	}
	return page, nil
}

// clipName is what its sender calls a recording.
func clipName(c service.ClipView) string {
	if len(c.Files) > 0 && c.Files[0].Name != "" {
		return c.Files[0].Name
	}
	return "Recording"
}

func showRecord(v *visit) error {
	page, err := v.recordPage()
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "record", page)
}

// record takes in a recording that comes as a plain form, from a browser without
// scripts: those send it bit by bit, see sayRecord.
func record(v *visit) error {
	if err := v.takeTime(); err != nil {
		return err
	}
	page, err := v.recordPage()
	if err != nil {
		return err
	}
	page.readForm(v)
	in, problems := page.clip(v)
	file, missing := v.FormFile("file")
	if missing != nil {
		problems = append(problems, problem{"file", "Pick a recording, or film one."})
	}
	if len(problems) == 0 {
		clip, err := v.addClip(page.ID.String(), in, file)
		if err == nil {
			return v.to("/clips/" + clip.ID.String())
		}
		e, ok := errors.AsType[*domain.Error](err)
		if !ok || e.Code != domain.Invalid {
			return err
		}
		problems = page.problemsOf(e)
	}
	page.Problems = problems
	return v.show(http.StatusUnprocessableEntity, "record", page)
}

// formTime is how long a recording may take to come as one form.
const formTime = 30 * time.Minute

// takeTime lets a large form come in, and no larger than a recording may be.
func (v *visit) takeTime() error {
	control := http.NewResponseController(v.Response())
	until := v.pages.now().Add(formTime)
	const fields = 1 << 20
	v.Request().Body = http.MaxBytesReader(v.Response(), v.Request().Body, v.pages.clips.MostBytes+fields)
	if err := errors.Join(control.SetReadDeadline(until), control.SetWriteDeadline(until)); err != nil {
		return fmt.Errorf("take time for a recording: %w", err)
	}
	err := v.Request().ParseMultipartForm(fields)
	if _, large := errors.AsType[*http.MaxBytesError](err); large {
		return domain.Errorf(domain.TooLarge, "The recording is larger than is taken: send a shorter part of it.")
	}
	if err != nil {
		return domain.Errorf(domain.Invalid, "The form did not come whole: send it again.")
	}
	return nil
}

// sayRecord answers with the fields under which a script sends the recording bit
// by bit, so that what is wrong with them is said before the bytes are sent.
func sayRecord(v *visit) error {
	page, err := v.recordPage()
	if err != nil {
		return err
	}
	page.readForm(v)
	in, problems := page.clip(v)
	if len(problems) > 0 {
		return problemError("The recording is not described well enough.", problems)
	}
	body, err := json.Marshal(clipFields(in), json.Deterministic(true))
	if err != nil {
		return err
	}
	return v.Blob(http.StatusOK, echo.MIMEApplicationJSON, body)
}

// problemError is what is wrong with a form, for a script.
func problemError(message string, problems []problem) error {
	var bad domain.Fields
	for _, p := range problems {
		bad.Add("/"+p.Field, p.Text, "")
	}
	return bad.Err(message)
}

// clip is what the form says of the recording, or what must be put right first.
func (p *recordPage) clip(v *visit) (service.NewClip, []problem) {
	var problems []problem
	revision := p.Shown.Number
	if number, err := strconv.Atoi(v.form("revision")); err == nil {
		revision = number
	}
	in := service.NewClip{ClientID: p.Once, ClipAsk: service.ClipAsk{
		Method: p.Entry.Method, TakenAt: v.form("taken_at"), Revision: &revision, Note: p.Entry.Note,
	}}
	if in.Method != string(domain.Clap) {
		in.CardSource = strings.TrimSpace(p.Entry.Card)
	}
	choice := slices.IndexFunc(p.Pairs, func(c pairChoice) bool { return c.Value == p.Entry.Pair })
	if pair := strings.Fields(p.Entry.Pair); choice >= 0 {
		in.Picture, in.Sound, in.ReadAt = pair[0], pair[1], pair[2]
	} else if p.Entry.Pair != "" {
		problems = append(problems, problem{"pair", "Choose what the recording compares, or that it is several."})
	}
	power, ok := powerUps[p.Entry.Changed]
	if !ok {
		problems = append(problems, problem{"changed", "Say whether anything was switched off, re-plugged or changed."})
	}
	in.PowerUp = power
	for _, dial := range p.Dials {
		passes := choice < 0 || slices.Contains(strings.Fields(p.Pairs[choice].Controls), dial.Name)
		if passes && strings.TrimSpace(dial.Value) != "" {
			in.Settings = append(in.Settings, service.NewSetting{Control: dial.Name, Value: plainNumber(dial.Value)})
		}
	}
	in.Options.Method = recording.Method(in.Method)
	return in, problems
}

// clipFields are the fields of the API that say what a clip says.
func clipFields(in service.NewClip) map[string]string {
	var settings []string
	for _, s := range in.Settings {
		settings = append(settings, s.Control+"="+s.Value)
	}
	all := map[string]string{
		"method": in.Method, "picture": in.Picture, "sound": in.Sound, "first": in.First, "second": in.Second, "read_at": in.ReadAt, "card_source": in.CardSource,
		"settings": strings.Join(settings, ", "), "power_up": in.PowerUp, "taken_at": in.TakenAt, "revision": strconv.Itoa(*in.Revision), "note": in.Note,
	}
	for name, value := range all {
		if value == "" {
			delete(all, name)
		}
	}
	return all
}

func (v *visit) addClip(rig string, in service.NewClip, files ...*multipart.FileHeader) (clip service.ClipView, err error) {
	ctx := v.Request().Context()
	upload, err := v.pages.clips.Upload(ctx, v.request(), rig)
	if err != nil {
		return clip, err
	}
	defer func() { err = errors.Join(err, upload.Close()) }()
	for _, file := range files {
		if err := addFile(upload, file); err != nil {
			return clip, err
		}
	}
	return v.pages.clips.Add(ctx, v.request(), rig, in, upload)
}

func addFile(upload *service.ClipUpload, file *multipart.FileHeader) error {
	data, err := file.Open()
	if err != nil {
		return fmt.Errorf("open a recording that was sent: %w", err)
	}
	defer func() { _ = data.Close() }() // it was only read
	return upload.Add(file.Filename, data)
}
