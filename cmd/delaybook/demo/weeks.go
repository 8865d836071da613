package demo

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"
)

// A visit is an evening on which a crew works with a rig.
type visit struct {
	crew, rig string
	day       int // of the week, 0 to 6
	methods   []domain.Method
}

// visits are the evenings of every week. The granary is used every second week.
var visits = []visit{
	{"red-van", "harbour-hall", 1, []domain.Method{domain.ByEye, domain.Clip}},
	{"blue-van", "quay-studio", 2, []domain.Method{domain.Clip}},
	{"blue-van", "granary", 4, []domain.Method{domain.Clap}},
	{"red-van", "van-kit", 5, []domain.Method{domain.Clap, domain.ByEye}},
}

func (f *filler) week(ctx context.Context, week int, start time.Time) error {
	monday := start.UTC().Truncate(24*time.Hour).AddDate(0, 0, -7*(Weeks-week))
	for _, v := range visits {
		if v.rig == "granary" && week%2 == 1 {
			continue
		}
		f.clock = monday.AddDate(0, 0, v.day).Add(17*time.Hour + time.Duration(f.random.IntN(90))*time.Minute)
		if err := f.visit(ctx, v, week); err != nil {
			return fmt.Errorf("%s: %w", v.rig, err)
		}
	}
	return nil
}

// visit measures every pair, dials the plan in and checks one pair.
func (f *filler) visit(ctx context.Context, v visit, week int) error {
	rig, err := f.use.Rig(ctx, f.as(v.crew), v.rig)
	if err != nil {
		return err
	}
	f.reality.powerUp()
	pairs := rig.Shown.Layout.JudgedPairs()
	if week == 0 {
		if err := f.dial(ctx, v, zeros(rig), 0); err != nil {
			return err
		}
	}
	for i, p := range pairs {
		if i > 0 && f.random.Float64() < 0.25 {
			continue // nobody measures everything every week
		}
		if err := f.measure(ctx, v, rig, p, v.methods[f.random.IntN(len(v.methods))], i == 0); err != nil {
			return err
		}
	}
	delays, err := f.use.Delays(ctx, f.as(v.crew), v.rig, "")
	if err != nil {
		return err
	}
	if len(delays.Changes()) > 0 || week == 0 {
		var set []service.NewSetting
		for _, s := range delays.Settings {
			set = append(set, service.NewSetting{Control: string(s.Placed.Use.Name), Value: s.Value.String()})
		}
		if err := f.dial(ctx, v, set, int64(delays.Version)); err != nil {
			return err
		}
	}
	check := pairs[f.random.IntN(len(pairs))]
	return f.measure(ctx, v, rig, check, domain.Clip, false)
}

func zeros(rig service.RigView) []service.NewSetting {
	var set []service.NewSetting
	for _, c := range rig.Shown.Layout.Controls() {
		set = append(set, service.NewSetting{Control: string(c.Use.Name), Value: "0"})
	}
	return set
}

func (f *filler) dial(ctx context.Context, v visit, set []service.NewSetting, plan int64) error {
	f.clock = f.clock.Add(3 * time.Minute)
	in := service.NewSettings{Settings: set}
	if plan > 0 {
		in.PlanVersion = &plan
	}
	_, err := f.use.PutSettings(ctx, f.as(v.crew), v.rig, in)
	return err
}

// measure takes one measurement of a pair, as the method would have read it.
func (f *filler) measure(
	ctx context.Context, v visit, rig service.RigView, p domain.JudgedPair, method domain.Method, first bool,
) error {
	f.clock = f.clock.Add(time.Duration(2+f.random.IntN(4)) * time.Minute)
	now, err := f.use.Settings(ctx, f.as(v.crew), v.rig, f.clock)
	if err != nil {
		return err
	}
	at, _ := rig.Shown.Layout.Destination(p.Destination)
	set := delaysMS(now)
	offset := f.reality.arrival(rig, p.Picture, at, set) - f.reality.arrival(rig, p.Sound, at, set)
	in := service.NewMeasurement{
		Picture: string(p.Picture), Sound: string(p.Sound), ReadAt: string(p.Destination), Method: string(method), PowerUp: "same",
	}
	if first {
		in.PowerUp = "new"
	}
	switch method {
	case domain.Clip:
		in.CardSource = "tablet-p"
		read := math.Round((offset+cardOffsetMS+0.8*f.random.NormFloat64())*10) / 10
		in.Readings = []service.NewReading{{OffsetMS: &read, UMS: ptr(1.2)}}
	case domain.ByEye, domain.Clap:
		if method == domain.ByEye {
			offset += cardOffsetMS
			in.CardSource = "tablet-p"
		}
		for range 2 + f.random.IntN(2) {
			count, heard := f.reality.frames(offset, rig.Shown.Layout.FrameRate)
			in.Readings = append(in.Readings, service.NewReading{Frames: strconv.FormatFloat(count, 'f', -1, 64), Heard: heard})
		}
	}
	_, err = f.use.AddMeasurement(ctx, f.as(v.crew), v.rig, in)
	return err
}

// cardOffsetMS is how much later the light of the demo's card source comes than
// its sound.
const cardOffsetMS = 6

// delaysMS returns the delay of every control as dialled in.
func delaysMS(v service.SettingsView) map[domain.Slug]float64 {
	set := map[domain.Slug]float64{}
	layout := &v.Rig.Current().Layout
	for _, c := range layout.Controls() {
		device, _ := v.Book.Device(c.Device)
		control, _ := device.ControlByID(c.Use.Control)
		for _, s := range v.Now.Values {
			if s.Control == c.Use.Name {
				set[s.Control] = service.ControlMS(control, layout.FrameRate, s.Value)
			}
		}
	}
	return set
}
