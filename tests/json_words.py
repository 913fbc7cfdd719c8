"""What the JSON keys mean that their types' docstrings do not explain, once for each name."""

from __future__ import annotations

WORDS = """
about: the card itself
act: the act's id, as `camsign undo` takes it
acts: how many acts the journals hold
added_bucks: names of bucks that were new
age_basis: how his age is known
age_year: the season his age was said for
air_turns_at: when the evening air starts to slide downhill; null: not before dark
anchor: sunrise or sunset
animal: frames in which the detector found one
any_chance: that any buck asked about comes by, 0 to 1
area: an area's name
area_id: its id
areas: the areas
back_test: how forecasts did; null: too few days
basis: what the days it was made on rest on
be_in_by: when to be on the stand
bearing_deg: the way he went
bed_of: whose bed it is: buck, doe or unknown
beds: how many beds
best_spans: the best hours, best first
blurred: how blurred the picture is, 0 to 1
box_height: height of what moved, as a share of the picture
box_width: width of it
box_x: left edge of it
box_y: upper edge of it
brier: mean squared error of the forecasts; null: no day to check
buck: a buck's name; null: a buck nobody named
buck_id: a buck's id; null: nobody named
bucks: the bucks, likeliest first
burst: id of the burst it belongs to; null: it stands alone
age: his age in years that season
card: the card's id
cards: the cards
exact_places: places are as they are, not rounded to 1 km
hour: hour of the sun's day, 6 at sunrise and 18 at sunset, or hours from it
line: the line's id
lately: his share of the days there in the last three weeks
makers: who may have made it, likeliest first
measures: what was measured, each by its name and in SI
rubs: how many rubs
schema: the version of this JSON
speaks: whether the day speaks for or against
stand: the stand's name
subject: who or what was said to be in the pictures; null: anything
value: the number; null: it can't be told
was: the camera it was before
by_camera: counts by camera
by_hour_from_sunrise: visits by whole hours from sunrise
by_hour_from_sunset: visits by whole hours from sunset
by_name: which way the line's own name says; null: none
calibration: what happened on days with like forecasts
camera: the camera's ID
cameras: the cameras
cant_judge: why pictures could not be compared, and how many
card_path: where it was on the card
cautions: what to mind, always given
cell_m: spacing of the heights kept
chance: a chance, 0 to 1
chart: the chart that was drawn
changed: how many were known and differ now
clock: the clock rule: hung, local or an offset
clock_fix: the correction's id
columns: names of the columns
comes_at: when he most likely comes by; null: can't tell
companions: files of the card that belong to pictures
coverage: share of the bucks there that were seen at all, 0 to 1; null: nobody was seen
cure: what to do
dark: visits in the dark
day: the day
daylight: share of visits by day, 0 to 1
days: how many days
days_between_median: days from one visit to the next
days_watched: whole days covered
deployment: id of the hang
detected_score: how sure the detector is, 0 to 1
distance_m: how far apart
doubts: times that may be wrong
down: how far things in the view went down, as a share of its height
drift_minutes_per_week: how fast the clock runs ahead; null: can't tell
dry_run: nothing was written
end: the last rub of the line, [lat, lon]
ended: when or how he ended; null: he has not, as far as is known
estimated: the correction was estimated from light, not read
evening: ways out by evening, most used first
evening_walks_per_10_days: mature bucks in shooting light, expected in 10 evenings
evenings_with_one_per_10: evenings of 10 on which at least one mature buck comes out in light
evidence: what it is known by
expected: how many rubs chance would give
facing_deg: where the camera looks
file: the file
files: each file of the card and where it went
findings: what is not as it was written
first: the first day
first_seen: his first sure picture there; null: none
flash: how strong the flash was, 0 to 1
fogged: how fogged the lens is, 0 to 1
folder: its folder below cards/
forecast: mean forecast, 0 to 1
frame: the frame's id, 64 hex digits or their first 16
frames: how many pictures
fresh_sign: signs that looked fresh, or were said to be, and were made on those days
bright_sign: rubs that looked bright on those days: made this season, but perhaps before them
from_minutes: start of the hour, from sunrise or sunset
gray: visits in gray light
guess: what kind it may be; empty: no guess
habit: the habit's id
happened: how often it came true, 0 to 1
hectares: its size in hectares
high: upper end of the 95% interval; null: nothing bounds it
hours: how many hours on stand
hours_until_first: mean hours from the second's visit to the first's next
hours_until_second: mean hours from the first's visit to the second's next
in_daylight: whether the sun was up; null: no sure time
kind: what kind of thing
known: how many were known already
known_as: the drawn area it lies in; null: none
known_by: how it is known whose card it is
last: the last day
last_seen: his last sure picture; null: none
lat: latitude, degrees north, WGS 84
latest_visit: start of his latest visit in shooting light; null: none
length_m: length of the line
light: the light of the picture: color, infrared or dark
likely_empty: pictures set aside as likely empty
lines: journal lines that came over
local: when, by the clock of the place
logbook: the logbook's folder
lon: longitude, degrees east, WGS 84
look_first: pictures that look empty but wait for your look
looks: each time it was looked at
low: lower end of the 95% interval; null: nothing bounds it
made_from: the first day it can have been made; null: can't tell
made_to: the last day it can have been made; null: can't tell
map: the map that was drawn
marks: the marks that recur
mark: what its size shows, such as a tall rub
mature: he is of mature age; null: his age is not known
method: how the number was figured
minutes_from_sunrise: minutes from sunrise, negative before; null: no sunrise or no sure time
minutes_from_sunset: minutes from sunset, negative before; null: no sunset or no sure time
model: the detector's name
morning: ways in by morning, most used first
n: how many it rests on
name: its name
native_m: spacing of the heights in the file
near_ties: bucks about as likely as the first
new: how many were new
nights: how many nights
nights_seen: nights on which he was seen
nights_watched: nights covered and sorted
not_understood: what nobody could read
note: what was noted; null: nothing
nothing: nights without a picture before the first card's or between two cards'
notes: how things were read
order: the stretches in the order of their numbering
other: the other sign's id
other_seen_on: when the other was seen
outage: the outage's id
p_order: odds that their order is luck, 0 to 1; null: too few nights
p_together: odds that so few or many nights together are luck, 0 to 1
pairs: the most frequent bucks, two by two
part: the month or phase
per_100_nights_poisson: the same as if nights did not hang together
person: frames in which the detector found one
pictures: the pictures it rests on
place: the place's name
place_id: its id
places: the places
radius_m: radius of its circle; null: it is no circle
rank: place in the list, 1 is best
reason: why; null: nothing was said
reasons: why it is known
refused: what could not be taken
right: how far things in the view went right, as a share of its width
rivals: how many mature bucks bed there at least once
row: its number among all that the files hold
rows: the list
safe_to_wipe: every file of the card has a verified copy
said: the answer in a sentence
scored: pictures that were compared
scrapes: how many scrapes
season: the hunting year
seasons: in how many seasons
second: name of the second
seen_on: when it was seen
shade_at: when the sun leaves the stand; null: not before dark
share: a share, 0 to 1
shooting_light: share of visits in shooting light, 0 to 1
shooting_light_visits_per_10_days: visits in shooting light in 10 days
shows: what the day's pictures show
sighting: id of the look at it
sign: a sign's id
signs: ids of the signs
silent: nights on which it was silent within a card's pictures
skipped: frames left out, and why
source: where it was read from
species: the tree; null: not said
split_from: the buck he was split from
stand_id: the stand's id
stands: the stands, best first
start: when it began
state: its look
station: the weather station's id
step_minutes: by how much the clock jumped; null: it did not
stop: when it worked again
sunrise: sunrise that day
sunset: sunset that day
tells: what a camera there would tell
tagged: how many frames were tagged, or untagged
tags: what was said of it; null: nothing yet
taken_as: how the bearing was noted; null: none was
taught: how many bursts tagged as nothing it learned from
tied_with: what it is too close to call with
to_minutes: end of the hour, from sunrise or sunset
traits: what tells him from others; null: not said
travel_deg: the way he went; null: not said
troubles: lines that were not understood
turn_deg: how far the view turned
twins: new sign that may be known from another device
tz: the place's time zone
undone: it was undone
underlay: the id of the picture beneath the map
unidentified: visits by bucks without a sure name
unknown: share of the ground without a height, 0 to 1
unknown_travel: detections without a known way
until: up to when; null: it still hangs
utc: when, in UTC; null: no sure time
vehicle: frames in which the detector found one
veiled: how veiled the picture is, 0 to 1
verdict: the word for it
visits: how many visits
walks: the walked paths
washed: how washed out the picture is, 0 to 1
watch: the effort behind it: cameras, nights and days covered
way: the travel that was read; empty: none
way_in_seen: how much of it the bed looks onto, 0 to 1; null: not known
way_in: the way in to take; null: none is drawn
ways: the ways in and out
what: what it is
where: where in its file
who: of whom it tells, bucks or does (does and fawns)
whole: the whole stretch was judged
why: the reasons
words: what it is, in words
at: when, in UTC; null: not said
bedded: days of them on which he was seen to bed there
from_deg: where it came from; null: not said
sector: the eighth of the winds, by its middle
sectors: the eighths of the winds, from north on
bins: sits by the chance that was said
bucks_an_hour: bucks seen for each hour on stand
count: how many of them
deer_an_hour: deer of any kind seen for each hour on stand
points: his points; null: not counted
points_to: whose work it looks like, a mature buck's or a young one's
sit: the sit's id
sits: the sits in the journal
spooked: it noticed you and left
disturbed_on: the last day somebody was near; null: not known
days_undisturbed: days since then
days_since: days since then; null: not known
days_before: watched days before your visits
days_after: watched days after them
came: on how many sits he came
came_before: those of them with a mature buck by daylight
came_after: those of them with a mature buck by daylight
intrusions: how many times somebody was near
last_day: the last day on which somebody is known to have been near; null: none is known
last_what: what for
ratio: daylight days after over before; null: can't be told
worked_to_end: it was found working when taken down
writer: whose journal it is in
written: the files that were written
property: the property's name in the lake
camera_nights: nights covered and sorted, of all cameras together
age_unknown: bucks whose age nobody said
mature_visits: visits by mature bucks
mature_per_100_nights: visits by mature bucks per 100 camera nights
month: the month and its year
"""
# Where a name means another thing in one type.
OWN = """
Act.said: when it was said, in UTC
Act.what: what was said
AreasTaken.areas: the areas taken in
Bedding.days: the days for and against
Bedding.sign: the sign at it
Bedding.unidentified: detections by bucks without a sure name
BeddedBuck.said: the answer for him
Bin.said: mean of the chances that were said, 0 to 1
CamerasTaken.cameras: how many were hung
Compared.day: visits by day
FieldTaken.areas: how many areas
FieldTaken.cameras: how many cameras
FieldTaken.places: how many places
FieldTaken.sign: how many signs
FieldTaken.sits: how many sits
FieldTaken.walks: how many walked paths
GroundTaken.columns: how many columns the heights have
GroundTaken.rows: how many rows the heights have
HangNext.places: places for a camera, those that change most first
Item.day: the day it was seen
Item.state: new, changed or known; of sign its look
LineRow.start: the first rub, [lat, lon]
Merged.cards: how many cards came over
NamedBuck.frames: how many pictures of him
Pair.first: name of the first
Pressure.areas: bedding areas, the one left alone longest first
SortedFiles.areas: the areas, each as it was read
SortedFiles.cameras: the cameras, each as it was read
SortedFiles.places: the places, each as it was read
SortedFiles.sign: the sign, each as it was read
SortedFiles.sits: the sits, each as it was read
SortedFiles.walks: the walked paths, each as it was read
Rivals.known: the mature bucks that were seen there
Split.frames: how many pictures went over to him
StandRow.until: when the sit ends
Started.where: where home lies by it, in words
Taken.first: the first hour
Taken.hours: how many hours of wind
Taken.last: the last hour
Taken.written: the file of the logbook it lies in
Table.rows: one a row, with a key a column
Tonight.part: morning or evening
Visit.frames: how many pictures of it
When.day: visits by day
When.visits: the visits themselves
Where.places: where he may bed, likeliest first
WindSector.from_deg: its middle
Written.what: what is in them, counted
"""
MEANS = dict(line.split(": ", 1) for line in (WORDS.strip() + OWN.rstrip()).splitlines())
