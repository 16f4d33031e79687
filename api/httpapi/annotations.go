package httpapi

// The contract. swag reads these blocks, openapi/gen makes the published
// document of them and adds what every operation has in common: the parameters
// units and explain, the problems, the headers.

// @title			knurl
// @version		1
// @description	Turns what a technician reads on gauges and thermometers into superheat, subcooling, their targets and what they suggest.
// @description
// @description	Answers defer to the manufacturer's data, to local codes and to licensed practice. No answer says that anything is safe.
// @description
// @description	**Versions.** Under /v1 answers may gain members, operations and values of lists marked x-extensible-enum: take what you know and leave the rest. Nothing is taken away or given another meaning. What is to go with /v2 is marked deprecated here at least twelve months before /v1 ends. Numbers may change with the revisions in provenance, which every answer carries.
// @description
// @description	**Changes.** Version 1: first published.
// @tag.name			catalogue
// @tag.description	Refrigerants, units and codes
// @tag.name			saturation
// @tag.description	Boiling and condensing, at a pressure or a temperature
// @tag.name			system
// @tag.description	What a running system shows, should show, and what that suggests
// @tag.name			air
// @tag.description	The air at the coils
// @tag.name			visit
// @tag.description	Before the start, until steady, gauges off
// @tag.name			charge
// @tag.description	Line sets and cylinders
// @tag.name			service
// @tag.description	The server itself
func _() {
	//	@Summary	The unit table
	//	@Description	A unit has one kind: an absolute pressure is not a gauge pressure, a temperature is not a difference. Questions may use any of them; answers use the set that units asks for.
	//	@ID			units
	//	@Tags		catalogue
	//	@Produce	json
	//	@Success	200	{object}	query.UnitsAnswer	"Every unit of the wire, with its kind and factor"
	//	@Router		/v1/units [get]

	//	@Summary	Every code of the wire with its English text
	//	@Description	Codes never change their meaning; their texts may be reworded or translated. Programs compare codes, people read texts.
	//	@ID			codes
	//	@Tags		catalogue
	//	@Produce	json
	//	@Success	200	{object}	query.CodesAnswer	"The codes, for translators"
	//	@Router		/v1/codes [get]

	//	@Summary	Every refrigerant of the catalogue
	//	@Description	Classified refrigerants, with their safety class and what the engine can compute of each.
	//	@ID			refrigerants
	//	@Tags		catalogue
	//	@Produce	json
	//	@Success	200	{object}	query.RefrigerantsAnswer	"In numerical order"
	//	@Router		/v1/refrigerants [get]

	//	@Summary	One refrigerant
	//	@Description	Composition, safety class, limits, properties and what each rests on, and how far its saturation curves reach.
	//	@ID			refrigerant
	//	@Tags		catalogue
	//	@Produce	json
	//	@Param		designation	path		string					true	"In any usual spelling"	example(R-410A)
	//	@Success	200			{object}	query.RefrigerantAnswer	"What is known of it; what is not is null, with the reason"
	//	@Router		/v1/refrigerants/{designation} [get]

	//	@Summary		Saturation of a refrigerant at a pressure or at a temperature
	//	@Description	At a pressure: bubble and dew temperature. At a temperature: bubble and dew pressure. Exactly one of the two is given.
	//	@ID				saturation
	//	@Tags			saturation
	//	@Produce		json
	//	@Param			designation				path		string					true	"In any usual spelling"																	example(R-410A)
	//	@Param			pressure				query		string					false	"Number and unit, gauge or absolute"													example(118psig)
	//	@Param			temperature				query		string					false	"Number and unit"																		example(40degF)
	//	@Param			altitude				query		string					false	"Of the gauge, above sea level; 0 ft is assumed, and said, where nothing is given"		example(600ft)
	//	@Param			atmospheric_pressure	query		string					false	"Absolute and at the site, not a weather report's sea-level figure, instead of altitude"	example(99.1kPaa)
	//	@Success		200						{object}	query.SaturationAnswer	"The point"
	//	@Router			/v1/refrigerants/{designation}/saturation [get]

	//	@Summary		Saturation from one temperature or pressure to another, in steps
	//	@Description	As text/csv the table has a column for each quantity, named with its unit, and the code of a row's problem in the last; what the table rests on comes with the JSON.
	//	@ID				saturation-table
	//	@Tags			saturation
	//	@Produce		json,text/csv
	//	@Param			designation				path		string						true	"In any usual spelling"																	example(R-410A)
	//	@Param			from					query		string						true	"First temperature or pressure"															example(-40degF)
	//	@Param			to						query		string						true	"Last temperature or pressure"															example(120degF)
	//	@Param			step					query		string						true	"Difference between rows"																example(5delta_degF)
	//	@Param			altitude				query		string						false	"Of the gauge, above sea level; 0 ft is assumed, and said, where nothing is given"		example(600ft)
	//	@Param			atmospheric_pressure	query		string						false	"Absolute and at the site, not a weather report's sea-level figure, instead of altitude"	example(99.1kPaa)
	//	@Success		200						{object}	query.SaturationTableAnswer	"The rows"
	//	@Router			/v1/refrigerants/{designation}/saturation-table [get]

	//	@Summary		Saturation at many points, of a refrigerant or of any composition
	//	@Description	Points are answered in the order asked, each with its values or with its own problem.
	//	@ID				saturation-points
	//	@Tags			saturation
	//	@Accept			json
	//	@Produce		json
	//	@Param			question	body		query.SaturationPointsQuestion	true	"Refrigerant or composition, and points"
	//	@Success		200			{object}	query.SaturationPointsAnswer	"The points"
	//	@Router			/v1/saturation [post]

	//	@Summary		Superheat, subcooling and the other quantities of a running system
	//	@Description	Readings may be partial: what follows from them is answered, needs lists what would lead further.
	//	@ID				superheat-subcooling
	//	@Tags			system
	//	@Accept			json
	//	@Produce		json
	//	@Param			question	body		query.SuperheatSubcoolingQuestion	true	"System, site, readings, instruments"
	//	@Success		200			{object}	query.SuperheatSubcoolingAnswer		"The state of the circuit, with uncertainties"
	//	@Router			/v1/superheat-subcooling [post]

	//	@Summary	The superheat that a system with a fixed metering device should show
	//	@Description	For a fixed orifice or capillary tube, from outdoor dry bulb and return wet bulb. Outside the table there is no target, and the answer says what to do instead. The manufacturer's table for the unit goes before this one.
	//	@ID			target-superheat
	//	@Tags		system
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.TargetSuperheatQuestion	true	"Outdoor dry bulb and return wet bulb, or return dry bulb and humidity in its place"
	//	@Success	200			{object}	query.TargetSuperheatAnswer		"The target, or null with the reason and alternatives"
	//	@Router		/v1/target-superheat [post]

	//	@Summary		What the readings of a running system suggest
	//	@Description	Readings may be partial. Probabilities of faults come with the evidence for each; where the readings or the method do not decide, the assessment is inconclusive and says why.
	//	@ID				diagnosis
	//	@Tags			system
	//	@Accept			json
	//	@Produce		json
	//	@Param			question	body		query.DiagnosisQuestion	true	"System, site, readings, instruments, running time"
	//	@Success		200			{object}	query.DiagnosisAnswer	"State, targets, deviations, faults"
	//	@Router			/v1/diagnosis [post]

	//	@Summary		What each further reading would tell
	//	@Description	From the readings so far, gauges or not: how much doubt each reading not yet taken would remove on average, and how likely it would change what is said. While no pressure is read, gauges stand apart, beside what the hoses would release when they come off.
	//	@ID				measurement-plan
	//	@Tags			system
	//	@Accept			json
	//	@Produce		json
	//	@Param			question	body		query.MeasurementPlanQuestion	true	"System, site, readings so far, hoses"
	//	@Success		200			{object}	query.MeasurementPlanAnswer		"Readings by what they would tell"
	//	@Router			/v1/measurement-plan [post]

	//	@Summary		Many diagnoses, one a line
	//	@Description	Newline-delimited JSON both ways: each line of the body is one question, each line of the answer one answer or one problem, in the order of the questions, with the line's number and the caller's id. A faulty line becomes a problem and the others are answered; empty lines are counted and skipped. The last line is a summary; where it carries a problem, the lines after the last one counted were not answered.
	//	@Description
	//	@Description	Answers are sent while questions arrive: read while sending, since answers that nobody reads hold up the questions. The schemas are those of one line.
	//	@ID				diagnosis-batch
	//	@Tags			system
	//	@Accept			application/x-ndjson
	//	@Produce		application/x-ndjson
	//	@Param			questions	body		batch.Question	true	"One question a line, each with an id if wanted"
	//	@Success		200			{object}	batch.Line		"One answer or problem a line, then the summary"
	//	@Router			/v1/diagnosis/batch [post]

	//	@Summary		What the instruments should show
	//	@Description	A model of the whole system, run over systems that fit what is known of this one: every reading as a median and the band of 95 % of systems, healthy, with one fault or with each. With a seed, one invented system's readings for practice.
	//	@ID				expected-readings
	//	@Tags			system
	//	@Accept			json
	//	@Produce		json
	//	@Param			question	body		query.ExpectedReadingsQuestion	true	"System, site, conditions, fault"
	//	@Success		200			{object}	query.ExpectedReadingsAnswer	"Expected readings, capacity and power"
	//	@Router			/v1/expected-readings [post]

	//	@Summary		What a blend has become after a leak
	//	@Description	Composition left and released, the shift of the saturation lines, the error of reading by the nominal table, and what topping up would give.
	//	@ID				leaked-blend
	//	@Tags			system
	//	@Accept			json
	//	@Produce		json
	//	@Param			question	body		query.LeakedBlendQuestion	true	"Blend, fill, temperature, phase leaving, share lost"
	//	@Success		200			{object}	query.LeakedBlendAnswer		"The blend after the leak"
	//	@Router			/v1/leaked-blend [post]

	//	@Summary	The state of moist air
	//	@Description	From the dry bulb and one of wet bulb, dew point, relative humidity and humidity ratio, at the pressure of the site.
	//	@ID			moist-air
	//	@Tags		air
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.MoistAirQuestion	true	"Dry bulb and one measure of humidity"
	//	@Success	200			{object}	query.MoistAirAnswer	"The state of the air"
	//	@Router		/v1/moist-air [post]

	//	@Summary	Is there refrigerant in a system at rest
	//	@Description	Compares the pressure of a system at rest with saturation at the temperatures beside it. It tells whether there is liquid, never how much.
	//	@ID			standing-pressure
	//	@Tags		visit
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.StandingPressureQuestion	true	"Refrigerant, pressures and temperatures of a system that is off"
	//	@Success	200			{object}	query.StandingPressureAnswer	"What the pressures say, could mean, and do not tell"
	//	@Router		/v1/standing-pressure [post]

	//	@Summary	Get the gauges off
	//	@Description	Mass in each hose as liquid and as vapour, and what is released when it is vented, drawn back into the running low side, or closed in. Liquid is not vented; it is drawn back.
	//	@ID			hose-recovery
	//	@Tags		visit
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.HoseRecoveryQuestion	true	"Hoses, manifold and what they hang on"
	//	@Success	200			{object}	query.HoseRecoveryAnswer	"What the hoses hold, what each way of taking them off releases, what a capped hose does in the heat"
	//	@Router		/v1/hose-recovery [post]

	//	@Summary	The whole visit as one document
	//	@Description	Composes what was read, answered and noted on a visit. The hash is SHA-256 over the document in the canonical form of RFC 8785, so that anyone can check that nothing was changed.
	//	@ID			visit-record
	//	@Tags		visit
	//	@Accept		json
	//	@Produce	json,html
	//	@Param		question	body		query.VisitRecordQuestion	true	"What was done and read on the visit"
	//	@Success	200			{object}	query.VisitRecordAnswer	"The document with its hash"
	//	@Router		/v1/visit-record [post]

	//	@Summary	Correct the charge for the line set
	//	@Description	From the diameter and length of the liquid line beyond what the factory charge covers, by the density of the liquid in it. The manufacturer's own rate goes before it.
	//	@ID			line-set-charge
	//	@Tags		charge
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.LineSetChargeQuestion	true	"Refrigerant and line set"
	//	@Success	200			{object}	query.LineSetChargeAnswer	"Correction by the density of the liquid, beside published figures"
	//	@Router		/v1/line-set-charge [post]

	//	@Summary	How much a refillable cylinder may hold
	//	@Description	From the water capacity and tare stamped on it, the specific gravity of the liquid, and what the liquid would do at the highest temperature. The marking of the cylinder and local codes go before it.
	//	@ID			cylinder-fill
	//	@Tags		charge
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.CylinderFillQuestion	true	"Refrigerant and cylinder"
	//	@Success	200			{object}	query.CylinderFillAnswer	"Limit, what is in it, what still fits"
	//	@Router		/v1/cylinder-fill [post]

	//	@Summary	Have the readings settled
	//	@Description	Readings of one or more channels with their times. Judges trend and scatter against limits that the question may set; a short series is called too short, not steady.
	//	@ID			stability
	//	@Tags		visit
	//	@Accept		json
	//	@Produce	json
	//	@Param		question	body		query.StabilityQuestion	true	"Readings over time"
	//	@Success	200			{object}	query.StabilityAnswer	"Steady, settling, cycling or too short, each and together"
	//	@Router		/v1/stability [post]

	//	@Summary		The circuit on its pressure-enthalpy diagram
	//	@Description	Dome, isotherms at round temperatures, and the states that the readings lead to, each with the region in which it lies with 95 % probability: cut at the dome where the phase is not resolved. Without readings it is the refrigerant's diagram alone. As image/svg+xml it is drawn.
	//	@ID				pressure-enthalpy-diagram
	//	@Tags			system
	//	@Accept			json
	//	@Produce		json,image/svg+xml
	//	@Param			question	body		query.PressureEnthalpyDiagramQuestion	true	"System, site, readings, instruments"
	//	@Success		200			{object}	query.PressureEnthalpyDiagramAnswer		"The geometry, or the picture"
	//	@Router			/v1/pressure-enthalpy-diagram [post]

	//	@Summary		The pressure-enthalpy diagram of a refrigerant
	//	@Description	Dome and isotherms without a circuit; with glide the isotherms fall inside the dome. As image/svg+xml it is drawn.
	//	@ID				refrigerant-diagram
	//	@Tags			catalogue
	//	@Produce		json,image/svg+xml
	//	@Param			designation	path		string								true	"In any usual spelling"	example(R-410A)
	//	@Success		200			{object}	query.PressureEnthalpyDiagramAnswer	"The geometry, or the picture"
	//	@Router			/v1/refrigerants/{designation}/pressure-enthalpy-diagram [get]

	//	@Summary	This document as a page
	//	@Description	Every operation with its question, its answers, examples and a form to try it out; it needs nothing from elsewhere.
	//	@ID			docs
	//	@Tags		service
	//	@Produce	html
	//	@Success	200	{string}	string	"The page"
	//	@Router		/docs [get]

	//	@Summary	Is the process alive
	//	@Description	Answers while the process runs. It looks at nothing else.
	//	@ID			livez
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	Health	"It is"
	//	@Router		/livez [get]

	//	@Summary	Is the server ready for requests
	//	@Description	While it starts, and from the moment it is told to stop, the answer is 503: send new requests elsewhere.
	//	@ID			readyz
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	Health	"It is"
	//	@Failure	503	{object}	problem.Problem	"It is starting or stopping"
	//	@Router		/readyz [get]

	//	@Summary	What is running
	//	@Description	Versions of the program, of the engine and of its data. Any change of a number in an answer changes one of the last two.
	//	@ID			version
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	Build	"Version, commit and compiler"
	//	@Router		/version [get]

	//	@Summary	This document as JSON
	//	@Description	The contract of this version of the program.
	//	@ID			openapi-json
	//	@Tags		service
	//	@Produce	json
	//	@Success	200	{object}	map[string]any	"OpenAPI 3.1"
	//	@Router		/openapi.json [get]

	//	@Summary	This document as YAML
	//	@Description	The contract of this version of the program.
	//	@ID			openapi-yaml
	//	@Tags		service
	//	@Produce	application/yaml
	//	@Success	200	{string}	string	"OpenAPI 3.1"
	//	@Router		/openapi.yaml [get]

	//	@Summary	Counts for Prometheus
	//	@Description	Requests by route and status, cache and shared cache, refusals, failures of solvers.
	//	@ID			metrics
	//	@Tags		service
	//	@Produce	plain
	//	@Success	200	{string}	string	"Text exposition format"
	//	@Failure	404	{object}	problem.Problem	"They are served on a listener of their own"
	//	@Router		/metrics [get]

	//	@Summary	What a type of problem means and what to do about it
	//	@Description	The page behind the type of a problem, as JSON or, for a browser, as HTML.
	//	@ID			problem
	//	@Tags		service
	//	@Produce	json,html
	//	@Param		name	path		string				true	"Last part of the problem's type"	example(unreadable-question)
	//	@Success	200		{object}	problem.Description	"The description"
	//	@Failure	404		{object}	problem.Problem		"There is no problem of this name"
	//	@Router		/problems/{name} [get]
}
