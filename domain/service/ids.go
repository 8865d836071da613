package service

import "github.com/google/uuid"

// parseID reads an identifier that a caller sent.
func parseID(text string) (uuid.UUID, bool) {
	id, err := uuid.Parse(text)
	return id, err == nil && len(text) == 36
}

// IsID reports whether a text that a caller sent is an identifier.
func IsID(text string) bool {
	_, ok := parseID(text)
	return ok
}

// mustID reads an identifier that this package wrote.
func mustID(text string) uuid.UUID { return uuid.MustParse(text) }
