package httpapi

// The contract. swag reads these blocks, openapi/gen makes the published
// document of them and adds what every operation has in common: the parameters
// units and explain, the problems, the headers.

// @title			knurl
// @version		1
// @description	Turns what a technician reads on gauges and thermometers into superheat, subcooling, their targets and what they suggest.
// @description
// @description	Answers defer to the maker's data, to local codes and to licensed practice. No answer says that anything is safe.
// @tag.name			catalogue
// @tag.description	Refrigerants, units and codes
// @tag.name			service
// @tag.description	The server itself
func _() {
	//	@Summary	The unit table
	//	@ID			units
	//	@Tags		catalogue
	//	@Produce	json
	//	@Success	200	{object}	query.UnitsAnswer	"Every unit of the wire, with its kind and factor"
	//	@Router		/v1/units [get]

	//	@Summary	Is the process alive
	//	@ID			livez
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	State	"It is"
	//	@Router		/livez [get]

	//	@Summary	Is the server ready for requests
	//	@ID			readyz
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	State	"It is"
	//	@Failure	503	{object}	problem.Problem	"It is starting or stopping"
	//	@Router		/readyz [get]

	//	@Summary	What is running
	//	@ID			version
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	Build	"Version, commit and compiler"
	//	@Router		/version [get]

	//	@Summary	This document as JSON
	//	@ID			openapi-json
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	map[string]any	"OpenAPI 3.1"
	//	@Router		/openapi.json [get]

	//	@Summary	This document as YAML
	//	@ID			openapi-yaml
	//	@Tags		service
	//	@Produce	application/yaml
	//	@Success	200	{string}	string	"OpenAPI 3.1"
	//	@Router		/openapi.yaml [get]

	//	@Summary	What a type of problem means and what to do about it
	//	@ID			problem
	//	@Tags		service
	//	@Produce	json,html
	//	@Param		name	path		string				true	"Last part of the problem's type"	example(unreadable-question)
	//	@Success	200		{object}	problem.Description	"The description"
	//	@Failure	404		{object}	problem.Problem		"There is no problem of this name"
	//	@Router		/problems/{name} [get]
}
