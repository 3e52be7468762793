using System.Collections.Frozen;
using System.Globalization;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>What a test says beside its result: method, duration, and what the instrument measured.</summary>
public sealed partial class MapMessage
{
    /// <summary>Coding system of our own columns in OBX-3, for what no terminology has a code: a local one (HL7 table 0396,
    /// <c>99zzz</c>).</summary>
    public const string OwnSystem = "99REGISTRY";

    /// <summary>The columns that may be stated so, and the units (OBX-6, UCUM) that may stand beside a number.</summary>
    private static readonly FrozenDictionary<string, (Field Field, string[] Units)>.AlternateLookup<ReadOnlySpan<char>> OwnColumns =
        new (Field Field, string[] Units)[]
        {
            (Field.Reason, []), (Field.Stage, []), (Field.Probe, []), (Field.Stimulus, []), (Field.Bands, []),
                (Field.ArtefactsRejected, ["1", "{count}"]),
            (Field.EarCanalVolumeMl, ["mL", "ml"]), (Field.AmbientNoiseDb, ["dB", "dB[SPL]"]),
        }.ToFrozenDictionary(c => Codes.Of(c.Field), StringComparer.Ordinal).GetAlternateLookup<ReadOnlySpan<char>>();

    /// <summary>An observation of one of our own columns: its segment and the order it belongs to.</summary>
    private readonly record struct OwnObservation(int Segment, int Order, Field Field, string[] Units);

    private readonly List<OwnObservation> _measured = [];

    /// <summary>Notes an OBX of our own coding system.</summary>
    private void SeeOwn(int obx, int order)
    {
        var id = _message.Repetition(_message.Field(obx, 3), 1);
        foreach (var first in (ReadOnlySpan<int>)[1, 4])
        {
            if (!_message.Component(id, first + 2).SequenceEqual(OwnSystem)) continue;
            if (IsTakenBack(obx)) return;
            if (OwnColumns.TryGetValue(_message.Component(id, first), out var column))
                _measured.Add(new(obx, order, column.Field, column.Units));
            else _rows.Remarks.Add(
                new(new(obx, 3), 103, 'W', $"is none of our columns that a test may state as {OwnSystem}; it was not recorded"));
            return;
        }
    }

    /// <summary>What was measured in the same order: with the result's sub-id (OBX-4) where the order has several results.</summary>
    private void Measures(Observation seen)
    {
        var several = _seen.Exists(o => o.Code.Means == "result" && o.Order == seen.Order && o.Segment != seen.Segment);
        foreach (var one in _measured)
        {
            if (one.Order != seen.Order) continue;
            var at = new Location(one.Segment, 5);
            var id = _message.Field(one.Segment, 4);
            if (several && !id.SequenceEqual(_message.Field(seen.Segment, 4)))
            {
                if (!BelongsToAResult(one, id))
                    _rows.Fail(one.Field, "stands in an order (OBR) of several results: say by OBX-4 which it belongs to", at,
                        _message.Field(one.Segment, 5));
                continue;
            }

            var value = _message.Value(one.Segment, 5);
            if (value.IsEmpty || value is "\"\"") continue;
            if (_message.Value(one.Segment, 6) is { IsEmpty: false } unit && !Contains(one.Units, unit))
            {
                _rows.Fail(one.Field, one.Units.Length == 0 ? "has no unit (OBX-6)" : $"is not in {one.Units[0]} (OBX-6)",
                    new(one.Segment, 6), $"{value} {unit}");
                continue;
            }

            var stated = _rows.Stated(one.Field);
            if (!stated.IsEmpty && stated is not "other" && !stated.SequenceEqual(_unescape.Of(value, _message)))
                _rows.Fail(one.Field, "contradicts what is stated elsewhere of the same test", at, $"{stated}, {value}");
            else Set(one.Field, value, at);
        }
    }

    private bool BelongsToAResult(OwnObservation one, ReadOnlySpan<char> id)
    {
        foreach (var other in _seen)
            if (other.Code.Means == "result" && other.Order == one.Order && id.SequenceEqual(_message.Field(other.Segment, 4))) return true;
        return false;
    }

    /// <summary>The duration observation of the same order and ear, in seconds, minutes or milliseconds (OBX-6, UCUM), to two
    /// decimals.</summary>
    private void Duration(Observation seen)
    {
        if (_seen.Find(o => o.Code.Means == "duration" && o.Order == seen.Order
            && o.Code.Ear == seen.Code.Ear) is not { Segment: > 0 and var obx }) return;
        var raw = _message.Value(obx, 5);
        if (raw.IsEmpty || raw is "\"\"" || IsTakenBack(obx)) return;
        var unit = _message.Value(obx, 6);
        decimal? factor = unit switch { "s" => 1, "min" => 60, "ms" => 0.001m, _ => null };
        if (factor is not { } f) _rows.Fail(Field.DurationSeconds, "is not in s, min or ms (OBX-6)", new(obx, 6), $"{raw} {unit}");
        else if (!decimal.TryParse(raw, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var value) || value > 1_000_000)
            _rows.Fail(Field.DurationSeconds, "is not a number", new(obx, 5), raw);
        else _rows.Set(Field.DurationSeconds, decimal.Round(value * f, 2, MidpointRounding.AwayFromZero)
            .ToString("0.##", CultureInfo.InvariantCulture), new(obx, 5));
    }

    /// <summary>The method observation of the same order: that with the result's sub-id (OBX-4), else the only one; else OBX-17.</summary>
    private void Method(Observation seen)
    {
        var found = 0;
        var alike = true;
        var ofSubId = 0;
        foreach (var other in _seen)
        {
            if (other.Code.Means != "method" || other.Order != seen.Order) continue;
            if (found > 0 && !_message.Field(found, 5).SequenceEqual(_message.Field(other.Segment, 5))) alike = false;
            found = other.Segment;
            if (_message.Field(seen.Segment, 4) is { IsEmpty: false } id && id.SequenceEqual(_message.Field(other.Segment, 4)))
                ofSubId = other.Segment;
        }

        if (ofSubId > 0) (found, alike) = (ofSubId, true);
        var at = found > 0 ? new Location(found, 5) : new(seen.Segment, 17);
        var field = _message.Field(at.Segment, at.Field);
        if (!alike)
        {
            _rows.Fail(Field.Method, "two methods in one order (OBR): say by OBX-4 which belongs to which result", at, field);
            return;
        }

        var value = _message.Repetition(field, 1);
        if (value.IsEmpty || value is "\"\"")
        {
            Set(Field.Method, value, at);
            return;
        }

        switch (CodedValue.Read(_message, value, CodeSet.Method, out var code, out _))
        {
            case CodedValue.Reading.Known: _rows.Set(Field.Method, code!.Means, at); break;
            case CodedValue.Reading.TwoMeanings: _rows.Fail(Field.Method, "the two codes contradict each other", at, value); break;
            default: _rows.Fail(Field.Method, "unknown code; the method is an answer of LOINC 54106-0 (LN)", at, value); break;
        }
    }
}
