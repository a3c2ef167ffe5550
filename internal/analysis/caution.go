package analysis

// CautionCode names a caution. A code never changes its meaning.
type CautionCode string

// The cautions, gravest first.
const (
	CautionBite              CautionCode = "bite"
	CautionStress            CautionCode = "stress"     // fear, pain or aggression: an open incident
	CautionCollarOff         CautionCode = "collar-off" // an open incident, or a hold of the collar
	CautionHealth            CautionCode = "health"     // slower or refused answers can be pain
	CautionVetHold           CautionCode = "vet-hold"
	CautionTwoForms          CautionCode = "two-forms"      // a session said differently in two stores
	CautionCollarRefused     CautionCode = "collar-refused" // a level was logged that must not be used
	CautionCorrectionsRising CautionCode = "corrections-rising"
	CautionManyCorrections   CautionCode = "many-corrections"
	CautionConfused          CautionCode = "confused" // corrections on wrong answers, or where all was new
	CautionLevelHigh         CautionCode = "level-high"
	CautionWorkingLevel      CautionCode = "working-level" // old, or never noted
	CautionTwoDevices        CautionCode = "two-devices"
	CautionCollarLevels      CautionCode = "collar-levels"
	CautionWear              CautionCode = "wear"
	CautionLaw               CautionCode = "law"
	CautionViews             CautionCode = "views"
	CautionOffLeash          CautionCode = "off-leash"
	CautionVerdict           CautionCode = "verdict" // what "ready" does not promise
)

// CautionWhy says what a fact is.
type CautionWhy string

// The facts. The fields that each fills are given with it.
const (
	FactIncident   CautionWhy = "open incident"                // Day, Text
	FactAfter      CautionWhy = "corrected after incident"     // Day (last), Count
	FactSlower     CautionWhy = "slower"                       // Cue, Before, Now, Day
	FactSlipping   CautionWhy = "slipping"                     // Cue, Day
	FactLost       CautionWhy = "lost"                         // Cue, Day
	FactFell       CautionWhy = "fell before hold"             // Day, Count of Of
	FactHold       CautionWhy = "on hold"                      // Day, Text
	FactInHold     CautionWhy = "logged in hold"               // Count
	FactTwoForms   CautionWhy = "two forms"                    // Day
	FactRewardOnly CautionWhy = "reward only"                  // Day
	FactYoung      CautionWhy = "under six months"             // Day
	FactNoCollar   CautionWhy = "no collar by the vet"         // Day
	FactNoDevice   CautionWhy = "level without device"         // Day
	FactMoreTrials CautionWhy = "more trials corrected"        // Cue
	FactDialRuns   CautionWhy = "dial up in a row"             // Cue, Device, Count
	FactDialRises  CautionWhy = "dial rising"                  // Cue, Device
	FactManyOnOne  CautionWhy = "many on one ask"              // Cue, Day, Count
	FactManyInAll  CautionWhy = "many in a session"            // Day, Person, Count of Of
	FactAfterWrong CautionWhy = "corrected after wrong answer" // Cue, Day
	FactAllNew     CautionWhy = "corrected where new"          // Day, Person, Place
	FactHigh       CautionWhy = "above working level"          // Day, Device, Level, Working
	FactNoWorking  CautionWhy = "no working level"             // Device
	FactOldWorking CautionWhy = "old working level"            // Device, Day (found)
	FactDevices    CautionWhy = "several devices"              // Cue, Device: one fact each
	FactCollarUsed CautionWhy = "collar on record"             // Day (last)
	FactOffLeash   CautionWhy = "off leash on record"          // Day (last)
	FactAlways     CautionWhy = "always"
)
