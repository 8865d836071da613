package service_test

import (
	"testing"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/uuid"
)

func TestARepeatIsAnsweredAsTheFirstTime(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	r := as(domain.Editor, b.red)
	r.Once, r.Fingerprint = "once", [32]byte{1}
	in := service.NewDevice{Slug: "cam-a", Name: "Camera", Kind: "camera"}
	first, err := b.AddDevice(t.Context(), r, in)
	if err != nil {
		t.Fatal(err)
	}
	patch := service.DevicePatch{Name: ptr("Renamed")}
	if _, err := b.PatchDevice(t.Context(), as(domain.Editor, b.red), "cam-a", service.Match{Given: true, Any: true}, patch); err != nil {
		t.Fatal(err)
	}
	before := b.Version()
	again, err := b.AddDevice(t.Context(), r, in)
	if err != nil {
		t.Fatal(err)
	}
	if again.ID != first.ID || again.Name != "Camera" || b.Version() != before {
		t.Errorf("repeat: got %s %q at version %d, want %s \"Camera\" at %d", again.ID, again.Name, b.Version(), first.ID, before)
	}
	r.Fingerprint = [32]byte{2}
	if _, err := b.AddDevice(t.Context(), r, in); code(t, err) != domain.Invalid {
		t.Errorf("another request under the key: got %v, want it refused", err)
	}
	other := r
	other.Caller.Crew = b.blue.ID
	in.Slug = "cam-b"
	if _, err := b.AddDevice(t.Context(), other, in); err != nil {
		t.Errorf("the key of another crew: got %v, want it free", err)
	}
}

func TestAMadeKeyIsNotShownTwice(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	r := operator()
	r.Once = "once"
	if _, err := b.AddKey(t.Context(), r, service.NewKey{Role: "reader"}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.AddKey(t.Context(), r, service.NewKey{Role: "reader"}); code(t, err) != domain.Conflict {
		t.Errorf("repeat: got %v, want a conflict", err)
	}
}

func TestTwoProcessesSeeEachOther(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	other := b.open(t)
	if _, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", clap("5")); err != nil {
		t.Fatal(err)
	}
	if other.Version() == b.Version() {
		t.Fatal("the other process knew the write before it was told")
	}
	// Its own write must build on the newest book.
	if _, err := other.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", clap("6")); err != nil {
		t.Fatal(err)
	}
	all, err := other.Measurements(t.Context(), as(domain.Reader, b.red), "hall")
	if err != nil || len(all) != 2 {
		t.Errorf("got %d measurements (%v), want both", len(all), err)
	}
	if all[0].PowerUp.ID != all[1].PowerUp.ID {
		t.Error("measured in the same minute by two processes: got two power-ups, want the careful one")
	}
}

func TestAKeyMadeBesideTheServiceWorksAtOnce(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	beside := b.open(t)
	key, err := beside.AddKey(t.Context(), operator(), service.NewKey{Role: "tech", Crew: "red-van"})
	if err != nil {
		t.Fatal(err)
	}
	got, err := b.Authenticate(t.Context(), key.Text)
	if err != nil || got.Role != domain.Tech || got.Crew != b.red.ID {
		t.Fatalf("got %+v, %v, want a tech of the red van", got, err)
	}
	if err := b.RevokeKey(t.Context(), operator(), key.Prefix); err != nil {
		t.Fatal(err)
	}
	for what, text := range map[string]string{"revoked": key.Text, "altered": key.Text[:len(key.Text)-1] + "0", "nonsense": "x", "empty": ""} {
		if _, err := b.Authenticate(t.Context(), text); code(t, err) != domain.NoKey {
			t.Errorf("%s key: got %v, want it refused", what, err)
		}
	}
}

func TestReadAsOfAnEarlierVersion(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	before := b.Version()
	for range 100 { // more than are kept in memory
		if _, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", clap("5")); err != nil {
			t.Fatal(err)
		}
	}
	for extra, want := range map[domain.Version]int{0: 0, 1: 1, 60: 60, 100: 100} {
		r := as(domain.Reader, b.red)
		r.At = before + extra
		got, err := b.Measurements(t.Context(), r, "hall")
		if err != nil || len(got) != want {
			t.Errorf("as of %d: got %d measurements (%v), want %d", r.At, len(got), err, want)
		}
	}
	r := as(domain.Reader, b.red)
	r.At = b.Version() + 1
	if _, err := b.Measurements(t.Context(), r, "hall"); code(t, err) != domain.Invalid {
		t.Errorf("a version to come: got %v, want it refused", err)
	}
}

func TestAMeasurementIsStoredOnceHoweverItIsSent(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	r := as(domain.Tech, b.red)
	in := clap("5")
	in.ClientID = uuid.NewString()
	first, err := b.AddMeasurement(t.Context(), r, "hall", in)
	if err != nil {
		t.Fatal(err)
	}
	batch := in
	batch.Rig = "red-van.hall"
	other := clap("6")
	other.Rig, other.ClientID = "hall", in.ClientID
	items, version, err := b.AddMeasurements(t.Context(), r, []service.NewMeasurement{batch, other, batch})
	if err != nil {
		t.Fatal(err)
	}
	if version != b.Version() || version != first.Measurement.Version {
		t.Errorf("a batch of repeats made version %d, want %d kept", version, first.Measurement.Version)
	}
	if items[0].Err != nil || items[0].Measurement.ID != first.Measurement.ID || items[2].Measurement.ID != first.Measurement.ID {
		t.Errorf("repeats in a batch: got %+v, want the first measurement", items)
	}
	if code(t, items[1].Err) != domain.Invalid {
		t.Errorf("another measurement under the identifier: got %v, want it refused", items[1].Err)
	}
}
