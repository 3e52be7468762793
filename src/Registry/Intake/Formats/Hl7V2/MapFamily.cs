using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>NK1, PID-11, PID-13, PID-14, PD1 and IN1: the people of the family, where the child lives, who cares for it and who pays. What
/// the birth says of the mother (her name, first telephone and e-mail) is not said twice.</summary>
public sealed partial class MapMessage
{
    /// <summary>Columns no field of a message has: an OBX of ours says them, and by OBX-4 of which NK1 (its NK1-1).</summary>
    private static readonly Field[] BesideAPerson =
        [Field.InterpreterNeeded, Field.PreferredChannel, Field.PreferredHours, Field.HoldsCustody, Field.MayBeTold];

    /// <summary>Nobody has more telephones; a message may hold a million.</summary>
    private const int MostRepetitions = 20;

    private readonly HashSet<FamilyRelation> _relatives = [];

    /// <summary>Where telephone numbers stand: field and repetition.</summary>
    private readonly List<(int Field, int Repetition)> _phones = [];

    /// <param name="pid">The patient.</param>
    /// <param name="end">Behind its last segment.</param>
    /// <param name="ofBirth">A birth row says what it has of the mother.</param>
    private void Family(int pid, int end, bool ofBirth)
    {
        var mother = Mother(pid, end);
        _relatives.Clear();
        for (var i = pid + 1; i < end; i++)
            if (_message.Is(i, "NK1")) Relative(i, pid, end, ofBirth && i == mother);
        Home(pid, ofBirth && mother == 0);
        Care(pid, end);
    }

    private void Relative(int nk1, int pid, int end, bool inBirth)
    {
        if (RelationOf(nk1) is not { } relation)
        {
            _rows.Remarks.Add(new(new(nk1, 3), 103, 'W', "is no relationship of table 0063: this person was not recorded"));
            return;
        }

        if (!_relatives.Add(relation) && !ReportedFamilyContact.MayBeSeveral(relation))
        {
            _rows.Remarks.Add(new(new(nk1, 3), 0, 'W', "somebody before has this relationship: this person was not recorded"));
            return;
        }

        FindPhones(nk1, 5, 6);
        if (inBirth && _phones is [(5, _), ..]) _phones.RemoveAt(0);
        var own = OwnOf(nk1, pid, end, BesideAPerson);
        var named = !inBirth && relation != FamilyRelation.Mother;
        if (_phones.Count + own.Count == 0 && !HasAddress(nk1, 4) && _message.Value(nk1, 20).IsEmpty
            && !(named && !(_message.Field(nk1, 2).IsEmpty && _message.Field(nk1, 13).IsEmpty))) return;
        _rows.Begin(RowKind.FamilyContact, new(nk1));
        _rows.Set(Field.Relation, Codes.Of(relation), new(nk1, 3));
        if (!inBirth) Name(nk1);
        Phones(nk1, inBirth ? Field.OtherPhone : Field.ContactPhone);
        if (!inBirth) Mail(nk1, 5);
        Address(nk1, 4);
        Optional(Field.Language, _message.Value(nk1, 20), new(nk1, 20));
        foreach (var (field, obx) in own) Set(field, _message.Value(obx, 5), new(obx, 5));
    }

    /// <summary>By its code in either triplet; else an office, which has a name of its own (NK1-13) and a role of table 0131.</summary>
    private FamilyRelation? RelationOf(int nk1)
    {
        var stated = _message.Repetition(_message.Field(nk1, 3), 1);
        return FamilyCodes.OfMessage(_message.Component(stated, 1)) ?? FamilyCodes.OfMessage(_message.Component(stated, 4))
            ?? (_message.Value(nk1, 7) is "S" or "F" && !_message.Field(nk1, 13).IsEmpty ? FamilyRelation.Agency : null);
    }

    private void Name(int nk1)
    {
        var name = _message.Repetition(_message.Field(nk1, 2), 1);
        var family = _unescape.Of(_message.Component(name, 1), _message).ToString();
        var whole = $"{_unescape.Of(_message.Component(name, 2), _message)} {family}".Trim();
        if (whole.Length > 0 && whole != "\"\"") _rows.Set(Field.PersonName, whole, new(nk1, 2));
        else Optional(Field.PersonName, _message.Value(nk1, 13), new(nk1, 13));
    }

    /// <summary>Where the child lives, and telephones that came with it and not with a person.</summary>
    private void Home(int pid, bool firstIsOfBirth)
    {
        FindPhones(pid, 13, 14);
        if (firstIsOfBirth && _phones is [(13, _), ..]) _phones.RemoveAt(0);
        if (_phones.Count == 0 && !HasAddress(pid, 11)) return;
        _rows.Begin(RowKind.FamilyContact, new(pid));
        _rows.Set(Field.Relation, Codes.Of(FamilyRelation.Self), new(pid, 11));
        Phones(pid, Field.ContactPhone);
        Address(pid, 11);
    }

    private void Care(int pid, int end)
    {
        var (pd1, in1) = (Find("PD1", pid, end), Find("IN1", pid, end));
        var provider = pd1 > 0 ? ProviderOf(pd1) : "";
        var pays = in1 > 0 ? _message.Value(in1, 15) is { IsEmpty: false } ? 15 : 4 : 0;
        var own = OwnOf(0, pid, end, [Field.PrimaryCareConfirmed]);
        if (provider.Length == 0 && (pays == 0 || _message.Value(in1, pays).IsEmpty)) return;
        _rows.Begin(RowKind.Care, new(pd1 > 0 ? pd1 : in1));
        if (provider.Length > 0) _rows.Set(Field.PrimaryCare, provider, new(pd1, 4));
        if (pays > 0) Optional(Field.Insurance, _message.Value(in1, pays), new(in1, pays));
        foreach (var (field, obx) in own) Set(field, _message.Value(obx, 5), new(obx, 5));
    }

    /// <summary>XCN: family and given name stand second and third.</summary>
    private string ProviderOf(int pd1)
    {
        var value = _message.Repetition(_message.Field(pd1, 4), 1);
        var family = _unescape.Of(_message.Component(value, 2), _message).ToString();
        return $"{_unescape.Of(_message.Component(value, 3), _message)} {family}".Trim();
    }

    private bool HasAddress(int segment, int field)
    {
        var one = _message.Repetition(_message.Field(segment, field), 1);
        return !(_message.Component(one, 1).IsEmpty && _message.Component(one, 3).IsEmpty && _message.Component(one, 5).IsEmpty);
    }

    /// <summary>XAD: the street (its first part, since 2.5), what else names the place, city, state and postal code.</summary>
    private void Address(int segment, int field)
    {
        if (!HasAddress(segment, field)) return;
        var one = _message.Repetition(_message.Field(segment, field), 1);
        var street = _unescape.Of(_message.Component(one, 1), _message).ToString();
        var whole = $"{street} {_unescape.Of(_message.Component(one, 2), _message)}".Trim();
        if (whole.Length > 0) _rows.Set(Field.Street, whole, new(segment, field, 1, 1));
        Optional(Field.City, _message.Component(one, 3), new(segment, field, 1, 3));
        Optional(Field.ResidenceState, _message.Component(one, 4), new(segment, field, 1, 4));
        Optional(Field.PostalCode, _message.Component(one, 5), new(segment, field, 1, 5));
    }

    private void FindPhones(int segment, int home, int work)
    {
        _phones.Clear();
        foreach (var field in (ReadOnlySpan<int>)[home, work])
        {
            for (var n = 1; n <= MostRepetitions; n++)
            {
                var one = _message.Repetition(_message.Field(segment, field), n);
                if (_message.Component(one, 4).IsEmpty && _message.Component(one, 2) is not "NET"
                    && !(_message.Component(one, 1).IsEmpty && _message.Component(one, 7).IsEmpty && _message.Component(one, 12).IsEmpty))
                    _phones.Add((field, n));
            }
        }
    }

    /// <summary>Two telephones of a person, with what kind they are: equipment (table 0202), else use (table 0201).</summary>
    private void Phones(int segment, Field first)
    {
        Field[] places = first == Field.OtherPhone ? [first] : [first, Field.OtherPhone];
        foreach (var ((field, n), place) in _phones.Zip(places))
        {
            var one = _message.Repetition(_message.Field(segment, field), n);
            var at = new Location(segment, field, n);
            if (!Telephone(place, one, at)) continue;
            PhoneUse? use = _message.Component(one, 3) is "CP" ? PhoneUse.Mobile : _message.Component(one, 2) switch
            {
                "WPN" => PhoneUse.Work,
                "PRN" or "ORN" or "VHN" => PhoneUse.Home,
                _ => field is 6 or 14 ? PhoneUse.Work : null,
            };
            if (use is { } kind) _rows.Set(place == Field.OtherPhone ? Field.OtherPhoneUse : Field.PhoneUse, Codes.Of(kind), at);
        }

        if (_phones.Count > places.Length)
            _rows.Remarks.Add(new(new(segment, _phones[^1].Field), 0, 'W', "two telephones of a person are recorded, and not the others"));
    }

    private void Mail(int segment, int field)
    {
        for (var n = 1; n <= MostRepetitions; n++)
        {
            var one = _message.Repetition(_message.Field(segment, field), n);
            if (_message.Component(one, 4) is { IsEmpty: false } address && Set(Field.ContactEmail, address, new(segment, field, n, 4)))
                return;
        }
    }

    /// <summary>OBX of our own coding system about one NK1, or about the child (0). An ADT message may carry them; in results an OBX
    /// belongs to an order.</summary>
    private List<(Field Field, int Obx)> OwnOf(int nk1, int pid, int end, ReadOnlySpan<Field> columns)
    {
        var found = new List<(Field, int)>();
        if (_message.Value(0, 9) is not "ADT") return found;
        for (var i = pid + 1; i < end; i++)
        {
            if (!_message.Is(i, "OBX") || !(nk1 == 0 || _message.Value(i, 4).SequenceEqual(_message.Value(nk1, 1)))) continue;
            var id = _message.Repetition(_message.Field(i, 3), 1);
            if (!_message.Component(id, 3).SequenceEqual(OwnSystem)) continue;
            foreach (var field in columns)
                if (_message.Component(id, 1).SequenceEqual(Codes.Of(field)) && !_message.Value(i, 5).IsEmpty) found.Add((field, i));
        }

        return found;
    }
}
