"""Widgets that more than one screen uses. State goes down into them, messages come up; none reads a register.

Every text that is handed in is taken for typed by a person: it is shown, never obeyed. All of them can be read
without colour, and in ASCII. Names in [brackets] below are optional.

Lists
    rows.Rows(columns, [rows], id=, empty="Nothing here.", find=None, enter_chooses=True)
        columns: Column(head, width, weight=1, grows=False, right=False, least=0), the weightiest first to go
        rows: a sequence of rows, or a source with count() and rows(offset, limit); a row is a sequence of
        Cell(text, tone="", draw=None), text or Content; draw(width) fills the column
        .show(rows, keep=None)  .row(index)  .cursor  .count  .set_columns(columns)
        Chosen(rows)
        find(text, start), the row or None, turns on `/`; where enter_chooses is False, Enter is a key of the screen
    time_line.time_cell(forecast, state, today)
        one line in a cell as wide as its column

Drawings
    machine_plan.MachinePlan(card or Equipment)      34 x 16 cells; large from 60 x 26 on
        .light(part, positions, [WalkRoute.of(parts of the questions, at)])
        positions by the names of the interlocks; a missing one is not known; {} says nothing of positions
    drum_section.DrumSection(Wound(coils_per_layer, layers, coils_on, [least]))  .wind(wound)
    pressure_line.PressureLine()
        .flow([PressurePoint(name, pressure in Pa, wanted=(low, high) or None), ...], system)
    limit_bars.LimitBars()  .judge([LimitBar(name, percent, worst percent, short words, long words), ...])

Forms
    choice_list.ChoiceList([KeyChoice(id, says), ...], given="", mark="now")
        one key gives a choice; await .ask(choices, given="");  Given(choices, id)
    inputs.LineInput(...)                       the framework's Input with the keys of a line only
    inputs.NumberInput(...)                     the same; while it is empty, letters are keys of the screen
    checkbox.Checkbox(text)                     .value

Text
    detail_panel.DetailPanel()                  .tell(content), drawing only the lines that look otherwise
    growing_text.GrowingText()                  .show([content, ...]), laid out again only where it takes other room

Dialogs (each is a leaving.Dialog that is made from its request, and only gives back an answer)
    dialogs.Choose, dialogs.Confirm, dialogs.Ask, people.ChoosePerson, people.PinDialog

The line of keys
    key_line.KeyLine()                          one line; what does not fit is in the help
"""
