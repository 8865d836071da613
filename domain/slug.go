package domain

import "strings"

// A Slug is the short name of a thing in addresses and in references from
// other things.
type Slug string

// MaxSlug is the most bytes of a slug.
const MaxSlug = 63

// SlugForm says what a slug looks like, for error texts.
const SlugForm = "1 to 63 lower-case letters, digits and single hyphens between them, such as \"harbour-hall\""

// Valid reports whether s has the form of SlugForm. A dot is never part of a
// slug: it joins crew and rig in "red-van.harbour-hall".
func (s Slug) Valid() bool {
	if len(s) == 0 || len(s) > MaxSlug || s[0] == '-' || s[len(s)-1] == '-' || strings.Contains(string(s), "--") {
		return false
	}
	for _, c := range []byte(s) {
		if c != '-' && (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
	}
	return true
}
