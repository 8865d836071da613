package estimate

// Check reports what Solve would refuse in a book, without solving it: an
// *InputError, or nil.
func (b Book) Check() error {
	_, err := newReader().network(&b)
	return err
}
