using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>A diagnostic evaluation: an order (OBR-4) of LOINC 98418-7 with its OBX.</summary>
public sealed partial class MapMessage
{
    /// <summary>Orders of evaluations.</summary>
    private readonly List<int> _evaluations = [];

    private static bool IsOfEvaluation(string? means) =>
        means is "finding" or "degree" or "abr_click" || means?.StartsWith("threshold_", StringComparison.Ordinal) == true;

    private void Evaluation(int order, int end)
    {
        _rows.Begin(RowKind.Diagnosis, new(order));
        EvaluationStatus(order);
        SetDay(Field.EvaluatedOn, order, 7);
        for (var i = order + 1; i < end && !_message.Is(i, "OBR"); i++)
        {
            if (!_message.Is(i, "OBX") || IsTakenBack(i)) continue;
            if (_rows.Stated(Field.Evaluator).IsEmpty) Optional(Field.Evaluator, _message.Value(i, 16), new(i, 16));
            if (CodeOf(i, 3) is { } code) OfEvaluation(i, code);
            else OwnOfEvaluation(i);
        }
    }

    /// <summary>OBR-25 (table 0123): P is provisional, C corrects, D, W and X take back.</summary>
    private void EvaluationStatus(int order)
    {
        var at = new Location(order, 25);
        switch (_message.Value(order, 25))
        {
            case "F" or "": break;
            case "P": _rows.Set(Field.Provisional, "true", at); break;
            case "C": _rows.Set(Field.Action, Codes.Of(RowAction.Correct), at); break;
            case "D" or "W" or "X": _rows.Set(Field.Action, Codes.Of(RowAction.Retract), at); break;
            case var other: _rows.Fail(Field.Action, "unknown code; OBR-25 is one of: F, P, C, D, W, X", at, other); break;
        }
    }

    private void OfEvaluation(int obx, StandardCode code)
    {
        var at = new Location(obx, 5);
        var right = code.Ear == Ear.Right;
        switch (code.Means)
        {
            case "finding":
                OwnCode(right ? Field.RightFinding : Field.LeftFinding, obx);
                break;
            case "degree":
                OwnCode(right ? Field.RightDegree : Field.LeftDegree, obx);
                break;
            case "abr_click":
                AddThreshold(right ? Field.RightAbr : Field.LeftAbr, $"click:{Level(obx)}", at);
                break;
            case var means when IsOfEvaluation(means):
                CheckUnit(right ? Field.RightAir : Field.LeftAir, obx);
                AddThreshold(right ? Field.RightAir : Field.LeftAir, $"{means!["threshold_".Length..]}:{Level(obx)}", at);
                break;
            default:
                _rows.Remarks.Add(new(new(obx, 3), 0, 'W', "is no part of a diagnostic evaluation; it was not recorded"));
                break;
        }
    }

    private void OwnOfEvaluation(int obx)
    {
        var id = _message.Repetition(_message.Field(obx, 3), 1);
        foreach (var first in (ReadOnlySpan<int>)[1, 4])
        {
            if (!_message.Component(id, first + 2).SequenceEqual(OwnSystem)) continue;
            if (!Codes.TryParse<Field>(_message.Component(id, first), out var field) || field == Field.EvaluatedOn
                || !CheckRow.FieldsOf(RowKind.Diagnosis).Contains(field))
            {
                _rows.Remarks.Add(new(new(obx, 3), 103, 'W',
                    $"is none of our columns that an evaluation may state as {OwnSystem}; it was not recorded"));
                return;
            }

            var value = _message.Value(obx, 5);
            if (value.IsEmpty || value is "\"\"") return;
            if (IsThreshold(field)) AddThreshold(field, _unescape.Of(value, _message).ToString(), new(obx, 5));
            else Set(field, value, new(obx, 5));
            return;
        }
    }

    private static bool IsThreshold(Field field)
    {
        foreach (var (threshold, _, _) in ReadFields.ThresholdFields)
            if (threshold == field) return true;
        return false;
    }

    /// <summary>Several OBX may state thresholds of one column.</summary>
    private void AddThreshold(Field field, string text, Location at)
    {
        var stated = _rows.Stated(field);
        _rows.Set(field, stated.IsEmpty ? text : $"{stated};{text}", at);
    }

    /// <summary>NM, or SN with <c>&gt;</c> before the number: no response at that level.</summary>
    private string Level(int obx)
    {
        var value = _message.Repetition(_message.Field(obx, 5), 1);
        return _message.Value(obx, 2) is "SN"
            ? $"{_unescape.Of(_message.Component(value, 1), _message)}{_message.Component(value, 2)}"
            : _unescape.Of(_message.Component(value, 1), _message).ToString();
    }

    private void CheckUnit(Field field, int obx)
    {
        if (_message.Value(obx, 6) is not ("" or "dB" or "dB[HL]")) _rows.Fail(field, "is not in dB (OBX-6)", new(obx, 6));
    }

    /// <summary>A code of this registry: no list of answers is published for it.</summary>
    private void OwnCode(Field field, int obx)
    {
        var value = _message.Repetition(_message.Field(obx, 5), 1);
        foreach (var first in (ReadOnlySpan<int>)[1, 4])
        {
            if (!_message.Component(value, first + 2).SequenceEqual(OwnSystem)) continue;
            Set(field, _message.Component(value, first), new(obx, 5));
            return;
        }

        _rows.Fail(field, $"carries no code of this registry ({OwnSystem})", new(obx, 5), value);
    }
}
