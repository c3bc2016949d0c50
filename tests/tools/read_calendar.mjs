// Reads calendars with ical.js, which shares no code with the program under test, and prints what it found
// as one JSON array, in the shape that read_calendar.py prints.
//
//     read_calendar.mjs FILE...
import { readFileSync } from 'node:fs'
import process from 'node:process'
import { required } from './required.mjs'

const ICAL = required('ical.js').default ?? required('ical.js')

const value = (component, name) => component.getFirstPropertyValue(name)

function entry (component) {
  const event = new ICAL.Event(component)
  const dates = ['dtstart', 'dtend'].map(name => value(component, name))
  return {
    uid: event.uid,
    summary: event.summary,
    description: event.description,
    dtstart: dates[0].toString(),
    dtend: dates[1].toString(),
    whole_days: dates.every(date => date.isDate),
    sequence: event.sequence,
    status: value(component, 'status'),
    transparency: value(component, 'transp'),
    stamp: value(component, 'dtstamp').toString(),
    organiser: value(component, 'organizer')
  }
}

function read (text) {
  const calendar = new ICAL.Component(ICAL.parse(text))
  if (calendar.name !== 'vcalendar') throw new Error(`a ${calendar.name} and no calendar`)
  const refresh = value(calendar, 'refresh-interval')
  return {
    version: value(calendar, 'version'),
    method: value(calendar, 'method'),
    name: value(calendar, 'name'),
    refresh: refresh === null ? null : refresh.toString(),
    entries: calendar.getAllSubcomponents('vevent').map(entry)
  }
}

const files = process.argv.slice(2)
if (files.length === 0 || files[0].startsWith('-')) {
  console.error('read_calendar.mjs FILE...')
  process.exit(2)
}
// Strict: what a lenient reader would guess at is refused.
ICAL.design.strict = true
const found = files.map(file => read(readFileSync(file, 'utf8')))
console.log(JSON.stringify(found, null, 2))
