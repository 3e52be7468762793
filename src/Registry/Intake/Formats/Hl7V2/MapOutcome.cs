using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>OBX-5 of a result: the outcome of a test of an ear, or why there is none.</summary>
public sealed partial class MapMessage
{
    private void Outcome(Observation seen)
    {
        var at = new Location(seen.Segment, 5);
        if (seen.Code.Means == "reason")
        {
            // Only a reason: the ear was not tested.
            _rows.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), at);
            _rows.Set(Field.Reason, Codes.Of(ReasonOf(seen) ?? ScreeningReason.Other), at);
            return;
        }

        var value = _message.Field(seen.Segment, 5);
        if (value.IsEmpty || value is "\"\"")
        {
            Set(Field.Outcome, value, at);
            return;
        }

        if (_message.Repetitions(value) > 1) _rows.Fail(Field.Outcome, "is stated more than once in OBX-5", at, value);
        var reading = CodedValue.Read(_message, _message.Repetition(value, 1), CodeSet.Outcome, out var code, out var otherName);
        if (reading == CodedValue.Reading.TwoMeanings) _rows.Fail(Field.Outcome, "the two codes of OBX-5 contradict each other", at, value);
        if (reading == CodedValue.Reading.Unknown)
            _rows.Fail(Field.Outcome, "unknown code; OBX-5 is an answer of LOINC 54109-4 / 54108-6 (LN) or its SNOMED CT code (SCT)", at,
                value);
        if (reading != CodedValue.Reading.Known || _message.Repetitions(value) > 1) return;
        if (otherName) _rows.Remarks.Add(new(at, 0, 'W', "the name beside the code is not the code's; the code was taken"));
        _rows.Set(Field.Outcome, code!.Means, at);
        var beside = ReasonBeside(seen);
        if (code.Means == "not_performed") NotPerformed(at, code, beside);
        if (code.Means == "no_valid_result") _rows.Set(Field.Reason, Codes.Of(ScreeningReason.Other), at);
    }

    /// <summary>What an observation beside the result gives as its reason; one that is none of ours is told, whatever the result.</summary>
    private ScreeningReason? ReasonBeside(Observation seen) =>
        _seen.Find(o => o.Code.Means == "reason" && o.Order == seen.Order && o.Code.Ear == seen.Code.Ear) is { Segment: > 0 } other
            ? ReasonOf(other) : null;

    /// <summary>Why not: as the answer itself says, or an observation beside it.</summary>
    private void NotPerformed(Location at, StandardCode answer, ScreeningReason? beside)
    {
        if (answer.Reason is { } stated && beside is { } reason && stated != reason)
            _rows.Fail(Field.Reason, "contradicts the result (OBX-5)", at, $"{Codes.Of(stated)}, {Codes.Of(reason)}");
        else _rows.Set(Field.Reason, Codes.Of(answer.Reason ?? beside ?? ScreeningReason.Other), at);
    }

    /// <summary>The reason an observation of it gives; null when it says none that we know.</summary>
    private ScreeningReason? ReasonOf(Observation seen)
    {
        var value = _message.Repetition(_message.Field(seen.Segment, 5), 1);
        if (value.IsEmpty) return null;
        if (CodedValue.Read(_message, value, CodeSet.Outcome, out var code, out _) == CodedValue.Reading.Known
            && code!.Reason is { } reason) return reason;
        if (code is null) _rows.Remarks.Add(
            new(new(seen.Segment, 5), 103, 'W', "the reason is none of the known codes; recorded as other"));
        return null;
    }
}
