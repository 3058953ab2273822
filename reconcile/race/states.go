package race

// The states of a result.
const (
	Clean   = "clean"
	Held    = "held"
	Running = "running"
	Unseen  = "unseen"
	DNS     = "dns"
	DNF     = "dnf"
	DSQ     = "dsq"
)

// States are all of them, in the order in which they are told.
var States = []string{Clean, Held, Running, Unseen, DNS, DNF, DSQ}

// Statuses are those that a list or a ruling gives.
var Statuses = []string{DNS, DNF, DSQ}

// NoStatus is the ruling that none of them stands.
const NoStatus = "none"
