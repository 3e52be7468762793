using System.Globalization;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>PID, NK1, PV1: who the infant is, and the birth.</summary>
public sealed partial class MapMessage
{
    /// <summary>What the observations say of a birth; segments, 0 for none.</summary>
    private record struct BirthObservations(int Plurality, int BirthWeight, int Gestation, int Provider)
    {
        public readonly bool Any => Plurality + BirthWeight + Gestation + Provider > 0;
    }

    /// <summary>What every row of the infant says.</summary>
    private void Who(int pid, int end, int card)
    {
        _rows.BeginInfant();
        RecordNumber(Field.RecordNumber, pid, 3);
        if (card > 0) Set(Field.CardId, _message.Value(card, 5), new(card, 5));
        BirthDate(pid);
        _rows.Set(Field.Sex, _message.Value(pid, 8) switch { "F" or "f" => "female", "M" or "m" => "male", _ => "unknown" }, new(pid, 8));
        if (_message.Value(pid, 25) is { IsEmpty: false } order) Set(Field.BirthOrder, order, new(pid, 25));
        if (Mother(pid, end) is not (> 0 and var nk1)) return;
        var name = _message.Repetition(_message.Field(nk1, 2), 1);
        Set(Field.MotherFamilyName, _message.Component(name, 1), new(nk1, 2, 1, 1));
        Set(Field.MotherGivenName, _message.Component(name, 2), new(nk1, 2, 1, 2));
        if (!_message.Field(nk1, 16).IsEmpty) SetDay(Field.MotherBirthDate, nk1, 16);
    }

    private void BirthDate(int pid) => SetDay(Field.BirthDate, pid, 7);

    /// <summary>NK1 whose relationship (NK1-3, table 0063) is mother.</summary>
    private int Mother(int pid, int end)
    {
        for (var i = pid + 1; i < end; i++)
            if (_message.Is(i, "NK1") && _message.Value(i, 3) is "MTH") return i;
        return 0;
    }

    /// <summary>The medical record number (type MR of table 0203), else the internal patient number (PI), else one without a
    /// type.</summary>
    private void RecordNumber(Field field, int segment, int number)
    {
        var list = _message.Field(segment, number);
        foreach (var wanted in (ReadOnlySpan<string>)["MR", "PI", ""])
        {
            var rest = list;
            for (var n = 1; !rest.IsEmpty; n++)
            {
                var cut = rest.IndexOf(_message.Delimiters.Repetition);
                var one = cut < 0 ? rest : rest[..cut];
                rest = cut < 0 ? default : rest[(cut + 1)..];
                if (_message.Component(one, 5).SequenceEqual(wanted) && Set(field, _message.Component(one, 1), new(segment, number, n, 1)))
                    return;
            }
        }

        _rows.Locate(field, new(segment, number));
    }

    /// <summary>PV1-4 (table 0007) says that the patient was born during this admission.</summary>
    private bool Newborn(int pid, int end) => Find("PV1", pid, end) is > 0 and var pv1 && _message.Value(pv1, 4) is "N";

    private void Birth(int pid, int end, BirthObservations seen)
    {
        var pv1 = Find("PV1", pid, end);
        _rows.Begin(RowKind.Birth, new(pid));
        if (Hl7V2Time.TryRead(_message.Value(pid, 7), out var born) && born.HasTime)
            _rows.Set(Field.BirthTime, born.Write(stackalloc char[19], zone)[11..], new(pid, 7));
        Plurality(pid, seen.Plurality);
        Measured(Field.BirthWeightG, seen.BirthWeight);
        Measured(Field.GestationWeeks, seen.Gestation);
        if (seen.Provider > 0) Optional(Field.PostDischargeProvider, NameAt(seen.Provider), new(seen.Provider, 5));
        if (!_message.Field(pv1, 45).IsEmpty) SetDay(Field.DischargedOn, pv1, 45);
        var name = _message.Repetition(_message.Field(pid, 5), 1);
        Optional(Field.InfantFamilyName, _message.Component(name, 1), new(pid, 5, 1, 1));
        Optional(Field.InfantGivenName, _message.Component(name, 2), new(pid, 5, 1, 2));
        Optional(Field.County, _message.Value(pid, 11, 9), new(pid, 11, 1, 9));
        Optional(Field.ResidenceState, _message.Value(pid, 11, 4), new(pid, 11, 1, 4));
        Optional(Field.Language, _message.Value(pid, 15), new(pid, 15));
        if (Mother(pid, end) is > 0 and var nk1) Contact(nk1, 5);
        else Contact(pid, 13);
    }

    /// <summary>A name as text, or as a family and a given name (XCN and XPN differ in what stands first).</summary>
    private string NameAt(int obx)
    {
        var value = _message.Repetition(_message.Field(obx, 5), 1);
        var first = _message.Value(obx, 2) is "XCN" ? 2 : 1;
        var (family, given) = (_message.Component(value, first).ToString(), _message.Component(value, first + 1).ToString());
        return $"{given} {family}".Trim();
    }

    private void Optional(Field field, ReadOnlySpan<char> raw, Location at)
    {
        if (!raw.IsEmpty) Set(field, raw, at);
    }

    /// <summary>PID-24 and PID-25, and the plurality observation. A multiple birth of unknown number is not given one.</summary>
    private void Plurality(int pid, int observation)
    {
        var multiple = _message.Value(pid, 24);
        var at = new Location(pid, 24);
        if (observation > 0)
        {
            at = new(observation, 5);
            var value = _message.Repetition(_message.Field(observation, 5), 1);
            if (CodedValue.Read(_message, value, CodeSet.Plurality, out var code, out _) == CodedValue.Reading.Known)
                _rows.Set(Field.Plurality, code!.Means, at);
            else Set(Field.Plurality, _message.Component(value, 1), at);
            if (multiple is "N" && code is not null and not { Means: "1" })
                _rows.Fail(Field.Plurality, "contradicts PID-24 (not a multiple birth)", at, $"{code.Means}, N");
            if (multiple is "Y" && code is { Means: "1" }) _rows.Fail(Field.Plurality, "contradicts PID-24 (a multiple birth)", at, "1, Y");
        }
        else if (multiple is "N")
        {
            _rows.Set(Field.Plurality, "1", at);
        }
        else if (multiple is "Y")
        {
            if (_message.Value(pid, 25).IsEmpty) _rows.Fail(Field.BirthOrder, "is required for a multiple birth (PID-25)", new(pid, 25));
            _rows.Remarks.Add(new(at, 0, 'W', "a multiple birth, but not of how many: send 57722-1"));
        }
    }

    /// <summary>Weight in g or kg, gestation in completed weeks; the unit (OBX-6, UCUM) must say which.</summary>
    private void Measured(Field field, int observation)
    {
        if (observation == 0) return;
        var at = new Location(observation, 5);
        var raw = _message.Value(observation, 5);
        if (raw.IsEmpty || raw is "\"\"")
        {
            Set(field, raw, at);
            return;
        }

        var unit = _message.Value(observation, 6);
        decimal? factor = field == Field.BirthWeightG
            ? unit switch { "g" => 1, "kg" => 1_000, _ => null }
            : unit switch { "wk" or "weeks" or "" => 1, _ => null };
        if (factor is not { } f)
        {
            _rows.Fail(field, field == Field.BirthWeightG ? "is not in g or kg (OBX-6)" : "is not in weeks, wk (OBX-6)",
                new(observation, 6), $"{raw} {unit}");
            return;
        }

        if (!decimal.TryParse(raw, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var value) || value > 1_000_000)
        {
            _rows.Fail(field, "is not a number", at, raw);
            return;
        }

        Span<char> text = stackalloc char[32];
        decimal.Floor(value * f).TryFormat(text, out var written, "0", CultureInfo.InvariantCulture);
        _rows.Set(field, text[..written], at);
    }

    /// <summary>Telephone and e-mail (XTN). Whether the family may be written to is not a matter of a message: consent is never taken from
    /// one.</summary>
    private void Contact(int segment, int number)
    {
        var list = _message.Field(segment, number);
        var (phone, mail) = (false, false);
        for (var n = 1; !list.IsEmpty; n++)
        {
            var cut = list.IndexOf(_message.Delimiters.Repetition);
            var one = cut < 0 ? list : list[..cut];
            list = cut < 0 ? default : list[(cut + 1)..];
            if (!mail && _message.Component(one, 4) is { IsEmpty: false } address)
            {
                mail = Set(Field.ContactEmail, address, new(segment, number, n, 4));
            }
            else if (!phone)
            {
                phone = Telephone(Field.ContactPhone, one, new(segment, number, n));
            }
        }
    }

    /// <summary>XTN.1 (before 2.7), else country, area and local number (XTN.5-7), else the unformatted number (XTN.12).</summary>
    private bool Telephone(Field field, ReadOnlySpan<char> xtn, Location at)
    {
        var whole = _message.Component(xtn, 1);
        if (whole.IsEmpty) whole = _message.Component(xtn, 12);
        if (!whole.IsEmpty) return Set(field, whole, at);
        if (_message.Component(xtn, 7).IsEmpty) return false;
        string[] parts =
            [_message.Component(xtn, 5).ToString(), _message.Component(xtn, 6).ToString(), _message.Component(xtn, 7).ToString()];
        return Set(field, string.Join(' ', parts.Where(p => p.Length > 0 && p != "\"\"")), at);
    }

    /// <summary>PID-29 and PID-30.</summary>
    private void Death(int pid)
    {
        var died = _message.Field(pid, 29);
        if (_message.Value(pid, 30) is not "Y" && (died.IsEmpty || died is "\"\"")) return;
        _rows.Begin(RowKind.Death, new(pid));
        SetDay(Field.DiedOn, pid, 29);
    }
}
