package ocr

// OpenNets opens the embedded nets for the suite of all classifiers.
func OpenNets() (Classifier, error) { return openNets() }
