"""Widgets that more than one screen uses. State goes down into them, messages come up; none reads a register.

Every text that is handed in is taken for typed by a person: it is shown, never obeyed. All of them can be read
without colour, and in ASCII. Names in [brackets] below are optional.

Lists
    rows.Rows(columns, [rows], id=, classes=, empty="Nothing here.", finder=None, chooses="")
        columns: Column(head, width, weight=1, grows=False, right=False, least=0), the weightiest first to go
        rows: a sequence of rows, or a source with count() and rows(offset, limit); a row is a sequence of
        Cell(text, tone="", draw=None), text or Content; state_cell("held"); draw(width) fills the column
        .show(rows, keep=None)  .renew()  .row(index)  .cursor  .count  .set_columns(columns)
        Moved(rows, index), Chosen(rows, index)
        finder(text, start) -> index | None turns on `/`; chooses names Enter in the line of keys
    time_line.time_cell(forecast, state, today, [weeks]), time_line.scale(today, width, [weeks])
        one line in a cell as wide as its column, and the months for the head over it

Drawings (each has .said, the same in one line of words)
    machine_plan.MachinePlan(card or Equipment, language="en")      34 x 16 cells; large from 60 x 26 on
        .light(part, positions, [Walk.of(parts of the questions, at)], language="")
        positions by the names of the interlocks; a missing one is not known; {} says nothing of positions
    drum_section.DrumSection(Wound(coils_per_layer, layers, coils_on, [least]), labels=(), language="en")
        .wind(wound, [labels])
    pressure_line.PressureLine([Place(name, pressure in Pa, wanted=(low, high) or None), ...], system="metric")
        .flow(places, [system])
    time_line.TimeLine([TimeItem(name, state, forecast), ...], today=, weeks=26)
        .tell(items, today=)

Forms
    quantity.Quantity(quantity, system="metric", role="", text="", judge=None, decimal_comma=False)
        judge(text with unit) -> (state word, what it says), asked at every key
        .ask(quantity, system=, role=, text=, judge=)  .typed  .value (SI or None)  .unit
        Given(quantity, text, value), Changed(quantity, text, value or None)
    choice_list.ChoiceList([Choice(id, says), ...], letters=False, given="", mark="given")
        one key gives a choice; await .ask(choices, given="");  Given(choices, id)
    note.Note([text], longest=, hint="")        .text  .fits;  Changed(note, text)
    line.Line(...)                              the framework's Input with the keys of a line only
    tick.Tick(text)                             .value
    message.MessagePanel()                      .tell(state word, says, typed="")  .hush()

Dialogs (screens that only give back an answer: await app.push_screen_wait(...) or a callback)
    people.ChoosePerson({name: role}, now="", title=)                       -> name or None
    people.Sign(person, title, says=(), role="", pin=False, wrong="")       -> Signature(person, pin) or None
    dialogs.Choose(title, choices) -> number or None;  dialogs.Confirm(title, says, yes=, no=) -> bool
    dialogs.Ask(title, says="", value="", needed=True) -> text or None

The line of keys
    key_line.KeyLine(last=("app.help",))        one line; what does not fit is in the help
"""
