module github.com/knurl-hvacr/knurl/.ci/mobile

go 1.26.0

replace github.com/knurl-hvacr/knurl => ../..

require (
	github.com/knurl-hvacr/knurl v0.0.0
	golang.org/x/mobile v0.0.0-20261011034528-197770444867
)

require (
	golang.org/x/mod v0.42.0 // indirect
	golang.org/x/sync v0.25.0 // indirect
	golang.org/x/tools v0.52.0 // indirect
)

tool golang.org/x/mobile/cmd/gobind
