package estimate

import (
	"math"

	"delaybook/domain/air"
)

// The speed of sound in air, m/s, is 343.2 sqrt((t + 273.15)/293.15) at t degrees
// Celsius (ISO 9613-1:1993).
const (
	soundAt20C  = 343.2
	kelvin      = 273.15
	usualAirC   = air.DefaultCelsius
	usualKelvin = kelvin + usualAirC
)

// airMS returns how long sound takes for a way, ms.
func airMS(metres, celsius float64) float64 {
	return metres / (soundAt20C * math.Sqrt((celsius+kelvin)/usualKelvin)) * 1000
}

// unknownAirVariance is the variance of a time in air at an unknown temperature.
func unknownAirVariance(ms float64) float64 {
	u := air.UnknownTemperatureMS(ms)
	return u * u
}

// air returns the way of sound in the second path minus that in the first, in
// metres. A measurement may say the way before the microphones itself.
func (p *pair) air(distance *float64) float64 {
	way := p.second.airM - p.first.airM
	if distance != nil {
		way = *distance
	}
	return way + p.second.tailM - p.first.tailM
}
