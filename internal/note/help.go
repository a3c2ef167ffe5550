package note

// Help is the notation on one screen: at most 24 lines of 80 columns.
const Help = `A note: a header, then a line for each cue. Every number carries its unit.

  dog: Pip; handler: Maren; start: today 9:10; place: yard
  leash: off; distraction: 2; device: blue remote; level: 7
  sit 3+                  three sits, each on the first ask (three yes)
  down - @9 +1.6          no; level 9; asked again, down in 1.6 s
  come 15m whistle +      15 m away (50ft, 30 yards); voice hand whistle tone
  stay 2:00 +, - 0:45     held two minutes; broke at 45 s (broke at 45)
  place 60s released 40s  you ended it at 40 s
  heel 3:20 2- left       3 min 20 s walked, two breaks, to the left
  down 8/10               eight of ten on the first ask (eight out of ten)
  > a remark              ! a bite, fear or pain: kept open until it is closed

  + yes ok good    did it, and the next mark is a new trial
  - no broke       did not answer; broke position
  x x:sat wrong    did something else     ? early already   in no rate
  @9 @leash @verbal @tone @vibration      corrections (level 9, leash, verbal)
  help lure again  helped; the cue given again     ,  next: ends the trial

Signs: down - @9 + is one trial. Words: sit yes no yes is three trials.
Refused: come 20 + (20+, 20m?), stay 90 + (90s?), stay 5m + (5:00, 5 m away?)
Try a note without storing it: firstcue log --dry-run NOTE. More: docs/notes.md
`
