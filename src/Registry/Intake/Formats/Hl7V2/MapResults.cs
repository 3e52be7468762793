using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>OBR and OBX of newborn hearing screening: a test of each ear, risk indicators, facts of the birth.</summary>
public sealed partial class MapMessage
{
    /// <summary>An observation we know: its segment, the order it belongs to, what it is.</summary>
    private readonly record struct Observation(int Segment, int Order, StandardCode Code);

    private readonly List<Observation> _seen = [];

    private void Results()
    {
        var pid = NextPatient(0);
        if (pid < 0)
        {
            Missing("PID", 0);
            return;
        }

        for (; pid >= 0; pid = NextPatient(pid + 1)) Results(pid, EndOfPatient(pid));
    }

    private void Results(int pid, int end)
    {
        var orphan = See(pid, end);
        Who(pid, end, Last("card"));
        var before = _rows.Count;
        var birth = new BirthObservations(
            Last("plurality"), Last("birth_weight"), Last("gestation"), Last("provider"));
        var newborn = Newborn(pid, end);
        if (newborn) Birth(pid, end, birth);
        else if (birth.Any) _rows.Remarks.Add(
            new(new(pid), 0, 'I', "facts of the birth are taken from messages about the birth admission only (PV1-4 newborn, N)"));
        if (orphan > 0) _rows.BeginUnreadable(new(orphan), "an OBX stands before the OBR it belongs to: segment sequence error");
        Death(pid);
        foreach (var seen in _seen)
        {
            switch (seen.Code.Means)
            {
                case "result": Screening(seen, newborn); break;
                case "reason" when !Has("result", seen): Screening(seen, newborn); break;
                case "risk": Risks(seen); break;
                case var means when IsOfEvaluation(means):
                    _rows.Remarks.Add(
                        new(new(seen.Segment, 3), 0, 'W', "is taken in an order (OBR-4) of 98418-7 only; it was not recorded"));
                    break;
            }
        }

        foreach (var evaluation in _evaluations) Evaluation(evaluation, end);

        if (_rows.Count == before && _seen.Count == 0)
            _rows.BeginUnreadable(new(pid), "nothing here is about newborn hearing screening: no OBX-3 is one of its LOINC codes");
        else if (_rows.Count == before)
            _rows.Remarks.Add(new(new(pid), 0, 'I', "nothing to record"));
        else if (orphan == 0)
            Family(pid, end, newborn);
    }

    /// <summary>Notes the observations we know.</summary>
    /// <returns>An OBX without an OBR, or 0.</returns>
    private int See(int pid, int end)
    {
        _seen.Clear();
        _measured.Clear();
        _evaluations.Clear();
        var (order, orphan) = (0, 0);
        for (var i = pid + 1; i < end; i++)
        {
            if (_message.Is(i, "OBR"))
            {
                order = i;
                if (CodeOf(i, 4)?.Means == "audiology") _evaluations.Add(i);
            }

            if (!_message.Is(i, "OBX") || (_evaluations.Count > 0 && _evaluations[^1] == order)) continue;
            if (order == 0) orphan = orphan == 0 ? i : orphan;
            else if (CodeOf(i, 3) is { } code) _seen.Add(new(i, order, code));
            else SeeOwn(i, order);
        }

        return orphan;
    }

    /// <summary>The LOINC code of an observation or of what was ordered; null when it is none of ours.</summary>
    private StandardCode? CodeOf(int segment, int field)
    {
        var coded = _message.Repetition(_message.Field(segment, field), 1);
        var reading = CodedValue.Read(_message, coded, CodeSet.Observation, out var code, out _);
        return reading == CodedValue.Reading.Known ? code : null;
    }

    private int Last(string means)
    {
        for (var i = _seen.Count - 1; i >= 0; i--)
            if (_seen[i].Code.Means == means && !IsTakenBack(_seen[i].Segment)) return _seen[i].Segment;
        return 0;
    }

    private bool Has(string means, Observation beside) => _seen.Exists(
        o => o.Code.Means == means && o.Order == beside.Order && o.Code.Ear == beside.Code.Ear);

    /// <summary>A test of an ear: the observation is its result, or the reason why there is none.</summary>
    private void Screening(Observation seen, bool newborn)
    {
        var obx = seen.Segment;
        _rows.Begin(RowKind.Screening, new(obx));
        Action(seen);
        _rows.Set(Field.Ear, Codes.Of(seen.Code.Ear!.Value), new(obx, 3));
        CheckEar(seen);
        Outcome(seen);
        PerformedAt(seen);
        Method(seen);
        if (newborn) _rows.Set(Field.Stage, Codes.Of(ScreeningStage.BirthAdmission), new(obx));
        Duration(seen);
        Measures(seen);
        Optional(Field.Instrument, _message.Value(obx, 18), new(obx, 18));
        Optional(Field.Screener, _message.Value(obx, 16), new(obx, 16));
    }

    /// <summary>OBX-11 (table 0085), else OBR-25: final and preliminary report, C corrects, D and W take back.</summary>
    private void Action(Observation seen)
    {
        var at = new Location(seen.Segment, 11);
        var status = _message.Value(seen.Segment, 11);
        if (status.IsEmpty) status = _message.Value(seen.Order, 25);
        switch (status)
        {
            case "F" or "P": break;
            case "C": _rows.Set(Field.Action, Codes.Of(RowAction.Correct), at); break;
            case "D" or "W": _rows.Set(Field.Action, Codes.Of(RowAction.Retract), at); break;
            case "": _rows.Fail(Field.Action, "is required: OBX-11 (result status)", at); break;
            default: _rows.Fail(Field.Action, "unknown code; OBX-11 is one of: F, P, C, D, W", at, status); break;
        }
    }

    private bool IsTakenBack(int obx) => _message.Value(obx, 11) is "D" or "W";

    /// <summary>The LOINC code names the ear. An order or a body site that says the other ear is an error, not a correction.</summary>
    private void CheckEar(Observation seen)
    {
        var ear = seen.Code.Ear!.Value;
        if (CodeOf(seen.Order, 4)?.Ear is { } ordered && ordered != ear)
            _rows.Fail(Field.Ear, "contradicts the ear of the panel (OBR-4)", new(seen.Order, 4), $"{Codes.Of(ear)}, {Codes.Of(ordered)}");
        var site = _message.Field(seen.Segment, 20);
        if (site.IsEmpty) return;
        var reading = CodedValue.Read(_message, _message.Repetition(site, 1), CodeSet.BodySite, out var code, out _);
        if (reading == CodedValue.Reading.TwoMeanings || (reading == CodedValue.Reading.Known && code!.Ear != ear))
            _rows.Fail(Field.Ear, "contradicts the observation site (OBX-20): 25577004 is the right ear, 89644007 the left",
                new(seen.Segment, 20), $"{Codes.Of(ear)}, {site}");
    }

    /// <summary>OBX-14, else OBR-7: the first of them that states the time of day.</summary>
    private void PerformedAt(Observation seen)
    {
        var own = _message.Value(seen.Segment, 14);
        var ordered = _message.Value(seen.Order, 7);
        var at = new Location(seen.Segment, 14);
        // A day without its time is completed by the order's time of that day.
        if (own.IsEmpty || (own.Length == 8 && ordered.StartsWith(own)))
        {
            own = ordered;
            if (!ordered.IsEmpty) at = new(seen.Order, 7);
        }

        if (own.IsEmpty) _rows.Locate(Field.PerformedAt, at);
        else if (!Hl7V2Time.TryRead(own, out var time)) _rows.Fail(Field.PerformedAt, "is not a date and time (YYYYMMDDHHMM)", at, own);
        else if (!time.HasTime) _rows.Fail(Field.PerformedAt, "states no time of day (YYYYMMDDHHMM)", at, own);
        else _rows.Set(Field.PerformedAt, time.Write(stackalloc char[19], zone), at);
    }

    /// <summary>58232-0: one answer a repetition. "None" makes no row, nor does an answer this registry keeps no indicator for.</summary>
    private void Risks(Observation seen)
    {
        var value = _message.Field(seen.Segment, 5);
        for (var n = 1; !value.IsEmpty; n++)
        {
            var cut = value.IndexOf(_message.Delimiters.Repetition);
            var one = cut < 0 ? value : value[..cut];
            value = cut < 0 ? default : value[(cut + 1)..];
            var at = new Location(seen.Segment, 5, n);
            if (one.IsEmpty || one is "\"\"") continue;
            var reading = CodedValue.Read(_message, one, CodeSet.Risk, out var code, out _);
            var own = CodedValue.OwnRisk(_message, one);
            if (own is null && reading == CodedValue.Reading.Known && code!.Means == "none") continue;
            if (own is null && reading == CodedValue.Reading.Known && code!.Means is null)
            {
                _rows.Remarks.Add(new(at, 0, 'W', "this risk is known, but none of the indicators that are kept; it was not recorded"));
                continue;
            }

            _rows.Begin(RowKind.Risk, at);
            Action(seen);
            if (own is null && reading != CodedValue.Reading.Known)
            {
                _rows.Fail(Field.Indicator,
                    "unknown code; OBX-5 is an answer of LOINC 58232-0 (LN), or a code of this registry (L)", at, one);
                continue;
            }

            var means = own ?? code!.Means;
            _rows.Set(Field.Indicator, means, at);
            // What can happen after birth is dated by its observation; the rest was present at birth.
            if (means is "meningitis" or "sepsis" or "mastoiditis" or "head_trauma_or_chemotherapy" or "caregiver_concern" or "ecmo"
                && !_message.Field(seen.Segment, 14).IsEmpty)
                SetDay(Field.NotedOn, seen.Segment, 14);
        }
    }
}
