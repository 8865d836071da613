package pglaunch

// CommandsBetween are the upgrade commands for a folder between two given
// installations. Only tests have both at hand.
func CommandsBetween(dir string, to, from Programs) ([]string, error) {
	acct, err := chooseAccount(layout{dir}.data())
	if err != nil {
		return nil, err
	}
	e := &VersionError{Dir: dir, Data: from.Major, user: "app", account: acct}
	return e.commands(to, from), nil
}

// FetchableVersion is the full version that is fetched for a major one.
func FetchableVersion(major int) string { return string(fetchable[major]) }

// SiblingDir is siblingDir.
var SiblingDir = siblingDir
