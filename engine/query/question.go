package query

import "github.com/knurl-hvacr/knurl/engine/intake"

// What every question about a system may bring, and what is said of one that
// cannot be answered.
type (
	Visit        = intake.Visit
	System       = intake.System       //@name System
	Share        = intake.Share        //@name Share
	Efficiency   = intake.Efficiency   //@name Efficiency
	LineSet      = intake.LineSet      //@name LineSet
	Site         = intake.Site         //@name Site
	Readings     = intake.Readings     //@name Readings
	Instrument   = intake.Instrument   //@name Instrument
	Instruments  = intake.Instruments  //@name Instruments
	Quantity     = intake.Quantity     //@name Quantity
	RequestError = intake.RequestError //@name RequestError
	Refusal      = intake.Refusal
)

// CoverageFactor is the k of every 95 % interval.
const CoverageFactor = intake.CoverageFactor

// Codes of errors in a question.
const (
	CodeSyntax             = intake.CodeSyntax
	CodeUnknownMember      = intake.CodeUnknownMember
	CodeRepeatedMember     = intake.CodeRepeatedMember
	CodeWrongType          = intake.CodeWrongType
	CodeUnknownUnit        = intake.CodeUnknownUnit
	CodeMissingUnit        = intake.CodeMissingUnit
	CodeMissingValue       = intake.CodeMissingValue
	CodeUnknownName        = intake.CodeUnknownName
	CodeWrongKind          = intake.CodeWrongKind
	CodeOutOfRange         = intake.CodeOutOfRange
	CodeContradiction      = intake.CodeContradiction
	CodeMissing            = intake.CodeMissing
	CodeUnknownRefrigerant = intake.CodeUnknownRefrigerant
	CodeAboveCritical      = intake.CodeAboveCritical
	CodeBelowRange         = intake.CodeBelowRange
	CodeTwoLiquids         = intake.CodeTwoLiquids
	CodeNearCritical       = intake.CodeNearCritical
	CodeNotConverged       = intake.CodeNotConverged
	CodeTooMany            = intake.CodeTooMany
)
