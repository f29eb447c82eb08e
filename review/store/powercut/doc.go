// Package powercut asks what a race folder holds after the power went, at any moment of a recorded run.
//
//	a real run, its system calls written down --ParseTrace--> Calls
//	Calls --Play--> Disk: what is safe, and what was written but not yet synced
//	Disk --Cut--> a folder as a power cut leaves it: the safe part, and some of the rest
//
// The disk is harsher than most: of what is not synced, it keeps all, nothing, the first part, or any sectors
// and names in any order. A name is safe only when its folder was synced. What it doesn't do: write
// other bytes than it was given, lose what was synced, or tear a sector of 512 bytes.
//
// It knows files and folders; what must be in them, its callers say. It is for tests. A recording is
// strace's, for calls of our own files and of SQLite alike pass the kernel, and nothing else sees both.
package powercut
