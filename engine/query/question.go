package query

import (
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

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
	Limit        = intake.Limit        //@name Limit
	Bound        = intake.Bound        //@name Bound
	Refusal      = intake.Refusal
)

// What sentences are made of: a stable code and the values in its text.
type (
	Code   = phrase.Code
	Params = phrase.Params
)

// UnknownRefrigerantError is the error for a designation that an address names
// and that is not in the catalogue; in a body it stands in a Refusal.
type UnknownRefrigerantError = refrigerant.UnknownError

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
