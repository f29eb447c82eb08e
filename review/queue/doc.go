// Package queue lets several programs read the photos of one race, each photo once.
//
//	photos --Put--> job: waiting --claim--> taken by one worker --Close--> done
//	                   ^                      |   |
//	                   |    worker went quiet |   | reader failed
//	                   '----------------------'---'  (the fifth time: failed, with the reason)
//
// A job is closed in the very transaction that keeps what the photo shows. Whoever was taken for dead and comes
// back late finds its claim void there, and keeps nothing: so a job may be begun twice, but nothing is kept twice.
//
// Jobs lie in the store's own database, for only what lies in one database can be committed together. On SQLite
// they are a table of this package; on PostgreSQL they are River's, which that database's users know and can look
// at with its tools. Which one, the store decides.
//
// It does not know what reading is, and never looks into a photo.
package queue
