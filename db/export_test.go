package db

import "time"

// SetLookAgain makes Watch look at a silent connection more often.
func (s *Store) SetLookAgain(d time.Duration) { s.lookAgain = d }
