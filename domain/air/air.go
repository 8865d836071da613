// Package air turns distances into the time that sound takes through air, and
// back.
//
// It knows nothing of chains or measurements: the caller says which distance
// counts, and with which sign. Sound that travels arrives late.
//
// # Model
//
//	c = 343.2 m/s * sqrt((t + 273.15) / 293.15)
//
// with t in degrees Celsius: ISO 9613-1:1993. It holds for any pressure and leaves
// out humidity. Against the full formula of Cramer (J. Acoust. Soc. Am. 93 (1993)
// 2510-2516) it is 0.05 % low in dry air, and 0.4 % at 30 degC and 50 % relative
// humidity. In 18 m that is 0.2 ms; a temperature wrong by 5 degC costs 0.45 ms.
//
// # Units
//
// Degrees Celsius, metres, milliseconds; a foot is 0.3048 m exactly.
//
// It imports the standard library and timebase.
package air

import (
	"fmt"
	"math"
	"strconv"

	"delaybook/domain/timebase"
)

// DefaultCelsius is the temperature of a measurement that states none, and of
// every prediction.
const DefaultCelsius = 20.0

// The temperatures that At accepts, in degrees Celsius: beyond what crews and
// equipment work in, so that what lies outside was meant otherwise.
const (
	MinCelsius = -40.0
	MaxCelsius = 60.0
)

// MaxMetres is the longest distance that MS accepts, in metres: ten kilometres
// are half a minute of sound.
const MaxMetres = 10_000.0

const metresPerFoot = 0.3048

// halfWidthCelsius is how far DefaultCelsius may be from a temperature that
// nobody read: a convention of this project, not a published value.
const halfWidthCelsius = 5.0

// Air is still air at a known temperature. The zero Air is not valid; At returns
// valid ones.
type Air struct{ celsius, speed float64 }

// At returns the air at a temperature. Outside MinCelsius to MaxCelsius, and for
// NaN, the error is a *timebase.InputError; where the number may be degrees
// Fahrenheit it names the degrees Celsius to send.
func At(celsius float64) (Air, error) {
	if celsius >= MinCelsius && celsius <= MaxCelsius {
		const reference, zero = 293.15, 273.15 // kelvin
		return Air{celsius, 343.2 * math.Sqrt((celsius+zero)/reference)}, nil
	}
	send := fmt.Sprintf("degrees Celsius from %g to %g, like 20", MinCelsius, MaxCelsius)
	if celsius > MaxCelsius && celsius <= MaxCelsius*9/5+32 {
		send = fmt.Sprintf("degrees Celsius: %g degrees Fahrenheit are %.1f", celsius, (celsius-32)*5/9)
	}
	return Air{}, &timebase.InputError{
		Input:  strconv.FormatFloat(celsius, 'g', 6, 64),
		Detail: "the air temperature is out of range",
		Send:   send,
	}
}

// Celsius returns the temperature.
func (a Air) Celsius() float64 { return a.celsius }

// Speed returns the speed of sound in metres per second.
func (a Air) Speed() float64 {
	a.must()
	return a.speed
}

// MSPerMetre returns the time that sound takes for one metre, in ms.
func (a Air) MSPerMetre() float64 {
	a.must()
	return 1000 / a.speed
}

// MS returns the time that sound takes, in ms. A distance may be a difference
// of two and so be negative, with a negative time. NaN and what lies beyond
// MaxMetres either way is a *timebase.InputError.
func (a Air) MS(metres float64) (float64, error) {
	a.must()
	if !(math.Abs(metres) <= MaxMetres) {
		return 0, &timebase.InputError{
			Input:  strconv.FormatFloat(metres, 'g', 6, 64),
			Detail: "the distance is out of range",
			Send:   fmt.Sprintf("metres, at most %g", MaxMetres),
		}
	}
	return metres * 1000 / a.speed, nil
}

// Metres returns how far sound travels in ms. It returns timebase.ErrRange for
// NaN and for times so long that the distance has no float64.
func (a Air) Metres(ms float64) (float64, error) {
	a.must()
	metres := ms * (a.speed / 1000)
	if math.IsNaN(metres) || math.IsInf(metres, 0) {
		return 0, timebase.ErrRange
	}
	return metres, nil
}

func (a Air) must() {
	if a.speed == 0 {
		panic("air: the zero Air has no speed of sound")
	}
}

// MetresOfFeet returns feet in metres.
func MetresOfFeet(feet float64) float64 { return feet * metresPerFoot }

// FeetOfMetres returns metres in feet.
func FeetOfMetres(metres float64) float64 { return metres / metresPerFoot }

// UnknownTemperatureMS returns the standard uncertainty, in ms, of a travel time
// of airMS computed for DefaultCelsius when nobody read the temperature. That is
// taken as anywhere within 5 degC, equally likely, so its standard uncertainty is
// 5/sqrt(3) (JCGM 100:2008, 4.3.7), and a travel time changes by 1/(2*293.15) of
// itself for each degree.
func UnknownTemperatureMS(airMS float64) float64 {
	return math.Abs(airMS) * halfWidthCelsius / (math.Sqrt(3) * 2 * 293.15)
}
