package estimate_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"delaybook/domain/estimate"
	"delaybook/domain/timebase"
)

// largeBook makes a company of so many devices: sites of a few rigs that share
// devices, one chain in four with a device that every site has, two units of
// each device.
func largeBook(tb testing.TB, devices, rigs, measurements int) estimate.Book {
	tb.Helper()
	rate, err := timebase.NewRate(25, 1)
	if err != nil {
		tb.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(9, uint64(devices)))
	var b estimate.Book
	latency := make([]float64, devices)
	for i := range devices {
		kind := "camera"
		if i%2 == 1 {
			kind = "microphone"
		}
		latency[i] = 5 + 100*rng.Float64()
		b.Devices = append(b.Devices, estimate.Device{
			Slug: fmt.Sprintf("d%05d", i), Kind: kind, Modes: []estimate.Mode{{Slug: "m", FrameRate: rate}},
		})
	}
	const site = 10 // devices of a site
	popular := max(2, devices/100)
	pick := func(home, parity int) int {
		n := home*site + rng.IntN(site)
		if rng.IntN(4) == 0 {
			n = rng.IntN(popular)
		}
		return (n/2*2 + parity) % devices
	}
	type pairOf struct{ picture, sound []int }
	var pairs []pairOf
	for r := range rigs {
		home := r * devices / rigs / site
		p := pairOf{}
		rig := estimate.Rig{ID: fmt.Sprintf("r%05d", r), FrameRate: rate}
		for _, side := range []struct {
			name   string
			signal estimate.Signal
			parity int
			list   *[]int
		}{{"p", estimate.Picture, 0, &p.picture}, {"s", estimate.Sound, 1, &p.sound}} {
			chain := estimate.Chain{Slug: side.name, Signal: side.signal}
			for range 1 + rng.IntN(3) {
				d := pick(home, side.parity)
				*side.list = append(*side.list, d)
				chain.Stages = append(chain.Stages, estimate.Stage{
					Device: b.Devices[d].Slug, Mode: "m", Unit: fmt.Sprint(rng.IntN(2)), Timing: estimate.HouseTiming,
				})
			}
			rig.Chains = append(rig.Chains, chain)
		}
		pairs = append(pairs, p)
		b.Rigs = append(b.Rigs, rig)
	}
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	u := 1.0
	for i := range measurements {
		r := i % rigs
		y := rng.NormFloat64()
		for _, d := range pairs[r].picture {
			y += latency[d]
		}
		for _, d := range pairs[r].sound {
			y -= latency[d]
		}
		b.Measurements = append(b.Measurements, estimate.Measurement{
			ID: fmt.Sprintf("m%07d", i), Rig: b.Rigs[r].ID, First: "p", Second: "s", Method: estimate.Clip, CardSource: "tablet",
			Readings: []estimate.Reading{{OffsetMS: &y, UMS: &u}}, PowerUp: fmt.Sprint(i / rigs), TakenAt: start.Add(time.Duration(i) * time.Minute),
		})
	}
	return b
}

// BenchmarkLargeBook solves whole companies cold, at the variances in use.
func BenchmarkLargeBook(b *testing.B) {
	for _, size := range []struct{ devices, rigs, measurements int }{
		{100, 200, 1_000}, {1_000, 2_000, 10_000}, {3_000, 6_000, 100_000}, {10_000, 15_000, 1_000_000},
	} {
		b.Run(fmt.Sprintf("devices=%d/measurements=%d", size.devices, size.measurements), func(b *testing.B) {
			book := largeBook(b, size.devices, size.rigs, size.measurements)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := estimate.Solve(book); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkRefresh adds one measurement to a component of about 180 unknowns
// and answers for its rig.
func BenchmarkRefresh(b *testing.B) {
	book := largeBook(b, 60, 90, 450)
	cache := estimate.NewCache(16)
	last := len(book.Measurements) - 1
	for i := 0; b.Loop(); i++ {
		y := *book.Measurements[last].Readings[0].OffsetMS + float64(i%7)*1e-3
		book.Measurements[last].Readings[0].OffsetMS = &y
		s, err := estimate.SolveCached(book, cache)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := s.Offset(estimate.OffsetQuery{Rig: "r00001", First: "p", Second: "s"}); err != nil {
			b.Fatal(err)
		}
	}
}
