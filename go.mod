module likelyground

go 1.26.0

require (
	github.com/airbusgeo/godal v0.0.16 // indirect
	github.com/goccy/go-yaml v1.19.2 // indirect
	github.com/klauspost/compress v1.20.4 // indirect
	github.com/mattn/go-isatty v0.0.24 // indirect
	github.com/mitchellh/colorstring v0.0.0-20190213212951-d06e56a500db // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	github.com/rogpeppe/go-internal v1.16.0 // indirect
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3 // indirect
	github.com/schollz/progressbar/v3 v3.19.1 // indirect
	github.com/spf13/pflag v1.1.0 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/term v0.44.0 // indirect
	golang.org/x/text v0.23.0 // indirect
	golang.org/x/tools v0.52.0 // indirect
	gonum.org/v1/gonum v0.17.0 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
