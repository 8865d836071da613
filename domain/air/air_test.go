package air_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"delaybook/domain/air"
	"delaybook/domain/timebase"
)

func mustAt(tb testing.TB, celsius float64) air.Air {
	tb.Helper()
	a, err := air.At(celsius)
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func mustMS(tb testing.TB, a air.Air, metres float64) float64 {
	tb.Helper()
	ms, err := a.MS(metres)
	if err != nil {
		tb.Fatal(err)
	}
	return ms
}

// near fails unless got is want rounded to the digits that the source prints.
func near(tb testing.TB, what string, got, want, lastDigit float64) {
	tb.Helper()
	if !(math.Abs(got-want) <= lastDigit*0.5000001) {
		tb.Errorf("%s = %v, want %v to the last digit", what, got, want)
	}
}

// rows reads the table; absent cells are NaN. Its head names the sources.
func rows(tb testing.TB) []map[string]float64 {
	tb.Helper()
	f, err := os.Open("testdata/speed_of_sound.csv")
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil || len(records) < 2 {
		tb.Fatalf("%d rows, %v", len(records), err)
	}
	var out []map[string]float64
	for _, record := range records[1:] {
		row := map[string]float64{}
		for i, name := range records[0] {
			v, err := strconv.ParseFloat(record[i], 64)
			if err != nil {
				v = math.NaN()
			}
			row[name] = v
		}
		out = append(out, row)
	}
	return out
}

// TestSpeedTable checks the columns of ISO 9613-1:1993, in metres and feet.
func TestSpeedTable(t *testing.T) {
	t.Parallel()
	for _, row := range rows(t) {
		a := mustAt(t, row["t_C"])
		at := " at " + strconv.FormatFloat(a.Celsius(), 'g', -1, 64)
		near(t, "speed"+at, a.Speed(), row["iso9613_m_s"], 1e-4)
		near(t, "feet per second"+at, air.FeetOfMetres(a.Speed()), row["iso9613_ft_s"], 1e-4)
		near(t, "ms per metre"+at, a.MSPerMetre(), row["ms_per_m_iso"], 1e-6)
		near(t, "ms per foot"+at, mustMS(t, a, air.MetresOfFeet(1)), row["ms_per_ft_iso"], 1e-6)
		metres, err := a.Metres(1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "metres in a ms"+at, metres, row["m_per_ms_iso"], 1e-6)
		near(t, "feet in a ms"+at, air.FeetOfMetres(metres), row["ft_per_ms_iso"], 1e-6)
	}
}

// cramer is Eq. 15 of O. Cramer, J. Acoust. Soc. Am. 93 (1993) 2510-2516: degC,
// Pa, relative humidity 0 to 1, mole fraction of carbon dioxide.
func cramer(t, p, h, xc float64) float64 {
	kelvin := t + 273.15
	saturated := math.Exp(1.2378847e-5*kelvin*kelvin - 1.9121316e-2*kelvin + 33.93711047 - 6343.1645/kelvin)
	xw := h * (1.00062 + 3.14e-8*p + 5.6e-7*t*t) * saturated / p
	return 331.5024 + 0.603055*t - 0.000528*t*t +
		(51.471935+0.1495874*t-0.000782*t*t)*xw +
		(-1.82e-7+3.73e-8*t-2.93e-10*t*t)*p +
		(-85.20931-0.228525*t+5.91e-5*t*t)*xc -
		2.835149*xw*xw - 2.15e-13*p*p + 29.179762*xc*xc + 0.000486*xw*p*xc
}

// TestAgainstCramer bounds what leaving out humidity costs. The formula is first
// checked against the two values that IEC 61094-2:2009 prints in Table F.1 (read
// second-hand; the conditions are from memory and reproduce them).
func TestAgainstCramer(t *testing.T) {
	t.Parallel()
	near(t, "IEC 61094-2, 23 degC", cramer(23, 101325, 0.5, 400e-6), 345.86652, 1e-5)
	near(t, "IEC 61094-2, 20 degC", cramer(20, 80000, 0.65, 400e-6), 344.38267, 1e-5)
	checked := 0
	for _, row := range rows(t) {
		if math.IsNaN(row["cramer_dry_m_s"]) {
			continue
		}
		checked++
		for column, c := range map[string]struct{ humidity, most float64 }{
			"cramer_dry_m_s": {0, 0.00050}, "cramer_50rh_m_s": {0.5, 0.0038}, "cramer_100rh_m_s": {1, 0.0071},
		} {
			near(t, column, cramer(row["t_C"], 101325, c.humidity, 400e-6), row[column], 1e-4)
			low := row[column]/mustAt(t, row["t_C"]).Speed() - 1
			if !(low > 0 && low <= c.most) {
				t.Errorf("%s at %v degC is %.5f above ours, want 0 to %v", column, row["t_C"], low, c.most)
			}
		}
	}
	if checked != 7 {
		t.Errorf("%d rows compared, want 7", checked)
	}
}

func TestAgainstTheLinearRule(t *testing.T) {
	t.Parallel()
	// 331.3 + 0.606 t is within 0.83 m/s of ISO 9613-1 from 0 to 40 degC.
	for celsius := 0.0; celsius <= 40; celsius++ {
		if off := math.Abs(331.3 + 0.606*celsius - mustAt(t, celsius).Speed()); off > 0.83 {
			t.Errorf("the linear rule is %.3f m/s off at %v degC", off, celsius)
		}
	}
}

func TestWorkedDistances(t *testing.T) {
	t.Parallel()
	a := mustAt(t, air.DefaultCelsius)
	if a.Speed() != 343.2 {
		t.Errorf("speed at 20 degC = %v, want 343.2 exactly (ISO 17497-1 Eq. 2)", a.Speed())
	}
	near(t, "10 m", mustMS(t, a, 10), 29.1375, 1e-4)
	near(t, "30 ft", mustMS(t, a, air.MetresOfFeet(30)), 26.6434, 1e-4)
	near(t, "34.32 m", mustMS(t, a, 34.32), 100, 1e-9)
	near(t, "50 m", mustMS(t, a, 50), 145.69, 1e-2)
	near(t, "-10 m", mustMS(t, a, -10), -29.1375, 1e-4)
	near(t, "m/s per degC", (mustAt(t, 20.001).Speed()-mustAt(t, 19.999).Speed())/0.002, 0.5854, 1e-4)
	if back, err := a.Metres(mustMS(t, a, 18)); err != nil || math.Abs(back-18) > 18*0x1p-51 {
		t.Errorf("18 m comes back as %v, %v; want it within four roundings", back, err)
	}
}

func TestUnknownTemperature(t *testing.T) {
	t.Parallel()
	// 50 m move by ±1.24 ms for ±5 degC; the half-width of a rectangle over the
	// root of 3 is its standard uncertainty (JCGM 100:2008, 4.3.7).
	fifty := mustMS(t, mustAt(t, 20), 50)
	near(t, "half-width of 50 m", air.UnknownTemperatureMS(fifty)*math.Sqrt(3), 1.24, 1e-2)
	near(t, "standard uncertainty of 50 m", air.UnknownTemperatureMS(fifty), 145.6876456876*5/(1.7320508076*586.3), 1e-9)
	if air.UnknownTemperatureMS(-fifty) != air.UnknownTemperatureMS(fifty) || air.UnknownTemperatureMS(0) != 0 {
		t.Error("an uncertainty has no sign, and no distance has none")
	}
	// The first-order rule against the formula at the ends: within 2 % of itself.
	for _, celsius := range []float64{15, 25} {
		moved := math.Abs(mustMS(t, mustAt(t, celsius), 50) - fifty)
		if half := air.UnknownTemperatureMS(fifty) * math.Sqrt(3); math.Abs(moved/half-1) > 0.02 {
			t.Errorf("50 m move by %v ms at %v degC, by the rule %v", moved, celsius, half)
		}
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	for celsius, send := range map[float64]string{
		-40.1: "-40 to 60", 72: "22.2", 140: "60.0", 141: "-40 to 60", -300: "-40 to 60",
		math.NaN(): "-40 to 60", math.Inf(1): "-40 to 60",
	} {
		_, err := air.At(celsius)
		if e, ok := errors.AsType[*timebase.InputError](err); !ok || !strings.Contains(e.Send, send) {
			t.Errorf("At(%v): %v, want it to send %q", celsius, err, send)
		}
	}
	a := mustAt(t, air.MinCelsius)
	for _, metres := range []float64{math.NaN(), math.Inf(-1), air.MaxMetres + 1, -air.MaxMetres - 1} {
		_, err := a.MS(metres)
		if e, ok := errors.AsType[*timebase.InputError](err); !ok || !strings.Contains(e.Send, "10000") {
			t.Errorf("MS(%v): %v", metres, err)
		}
	}
	for _, ms := range []float64{math.NaN(), math.Inf(1)} {
		if _, err := a.Metres(ms); !errors.Is(err, timebase.ErrRange) {
			t.Errorf("Metres(%v): %v, want ErrRange", ms, err)
		}
	}
	mustAt(t, air.MaxCelsius)
}
