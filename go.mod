module github.com/knurl-hvacr/knurl

go 1.26
