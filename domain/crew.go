package domain

import "time"

// A Crew is a group of people who share rigs.
type Crew struct {
	ID      CrewID  `json:"id,omitzero"`
	Slug    Slug    `json:"slug,omitzero"` // unique in the company
	Name    string  `json:"name,omitzero"`
	Version Version `json:"version,omitzero"` // the book version that made it
}

// A Role says what the holder of a key may do. Each includes those before it.
type Role string

// The roles, from least to most.
const (
	Reader Role = "reader" // reads: scripts
	Tech   Role = "tech"   // adds measurements, settings in force and clips
	Editor Role = "editor" // edits devices and rigs, strikes out
	Admin  Role = "admin"  // crews, keys, export of everything
)

// Roles lists every role from least to most.
func Roles() []Role { return []Role{Reader, Tech, Editor, Admin} }

// Valid reports whether r is a role.
func (r Role) Valid() bool { return r.rank() > 0 }

// Includes reports whether r may do all that other may.
func (r Role) Includes(other Role) bool { return r.Valid() && r.rank() >= other.rank() }

func (r Role) rank() int {
	for i, known := range Roles() {
		if r == known {
			return i + 1
		}
	}
	return 0
}

// A Purpose says how a key is used.
type Purpose string

// The purposes.
const (
	ForRequests Purpose = "key"     // sent with every request, until it is revoked
	ForSession  Purpose = "session" // kept by a browser as a cookie
	ForJoining  Purpose = "link"    // part of a link that gives whoever opens it a session
)

// A Key gives access. Only a hash of its secret is kept. A session and a link
// that others join by are keys too, so that whatever is written can be traced to
// one, and each can be ended.
type Key struct {
	ID        KeyID     `json:"id,omitzero"`
	Purpose   Purpose   `json:"purpose,omitzero"`
	Prefix    string    `json:"prefix,omitzero"` // the public part, by which it is found
	Hash      Digest    `json:"hash,omitzero"`   // SHA-256 of the whole key
	Role      Role      `json:"role,omitzero"`
	Crew      CrewID    `json:"crew,omitzero"`  // zero: a key of the company, in no crew
	Label     string    `json:"label,omitzero"` // whose it is, in words
	CreatedAt time.Time `json:"created_at,omitzero"`
	ExpiresAt time.Time `json:"expires_at,omitzero"` // zero: never
	From      KeyID     `json:"from,omitzero"`       // a session: the key or link that it was opened with; a link: its maker
	Once      bool      `json:"once,omitzero"`       // a link: it ends when the first person joined
	Version   Version   `json:"version,omitzero"`
	Revoked   Version   `json:"revoked,omitzero"` // the book version that revoked it; 0 while it is good
}
