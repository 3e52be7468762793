using Registry.Platform.Csv;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Accounts;

/// <summary>What a row of a file of people would do.</summary>
public enum PersonRowChange
{
    Nothing,
    Invited,
    PlaceAdded,
}

/// <summary>A row of a file of people, and what is wrong with it.</summary>
public sealed record PersonRow(int Line, string Email, string Name, Placing? Placing, string? Site, string? Problem)
{
    public PersonRowChange Change { get; init; }

    /// <summary>Who has the address by now.</summary>
    public Guid? Known { get; init; }
}

/// <summary>Reads a file of people, a row for each role of somebody: the first row of a new address invites them, further rows add a role.
/// What is there already stays, and nothing is taken away. Nobody is added by reading.</summary>
/// <param name="sites">Those there are.</param>
/// <param name="counties">Those there are.</param>
/// <param name="people">Everybody by now.</param>
/// <param name="me">Who reads it: nobody gives oneself another role.</param>
public sealed class ReadPeopleFile(
    IReadOnlyList<Site> sites, IReadOnlyList<string> counties, IReadOnlyList<PersonLine> people, Guid me)
{
    public static readonly string[] Columns = ["email", "name", "role", "site", "counties"];

    private readonly Dictionary<string, PersonLine> _known =
        people.ToDictionary(p => p.Person.Email!, StringComparer.OrdinalIgnoreCase);

    /// <summary>What each address has by the rows before.</summary>
    private readonly Dictionary<string, List<Placing>> _places = people.ToDictionary(p => p.Person.Email!,
        p => p.Places.Select(w => new Placing(w.Role, w.SiteId, w.Counties))
            .Prepend(new(p.Person.Role, p.Person.SiteId, p.Person.Counties)).ToList(), StringComparer.OrdinalIgnoreCase);

    public (IReadOnlyList<PersonRow> Rows, string? Problem) Run(string text) =>
        ReadCsv.Rows(text, Columns, out var reason) is { } lines ? ([.. lines.Select(Read)], null) : ([], reason);

    private PersonRow Read(CsvLine line)
    {
        var (email, name, code) = (line["email"], line["name"], line["site"]);
        var role = Codes.TryParse<Role>(line["role"].ToLowerInvariant(), out var r) ? r : (Role?)null;
        var site = sites.FirstOrDefault(s => s.Code.Equals(code, StringComparison.OrdinalIgnoreCase));
        var named = line["counties"].Split(';', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        var placing = role is null ? null : new Placing(role.Value, site?.Id,
            [.. counties.Where(c => named.Contains(c, StringComparer.OrdinalIgnoreCase))]);
        var problem = !System.Net.Mail.MailAddress.TryCreate(email, out _) || email.Length > 254 ? AccountWords.EnterEmail
            : name.Length is 0 or > 80 ? AccountWords.EnterName
            : placing is null ? $"Roles are: {string.Join(", ", Enum.GetValues<Role>().Select(v => Codes.Of(v)))}."
            : code.Length > 0 && site is null ? AccountWords.NoSuchSite
            : placing.Counties.Count != named.Distinct(StringComparer.OrdinalIgnoreCase).Count() ? AccountWords.NoSuchCounty
            : placing.Problem;
        var row = new PersonRow(line.Number, email, name, placing, site?.Name, problem);
        return problem is null ? Compare(row) : row;
    }

    private PersonRow Compare(PersonRow row)
    {
        var known = _known.GetValueOrDefault(row.Email)?.Person;
        row = row with { Known = known?.Id };
        if (!_places.TryGetValue(row.Email, out var places))
        {
            _places[row.Email] = [row.Placing!];
            return row with { Change = PersonRowChange.Invited };
        }

        if (places.FirstOrDefault(p => p.IsSamePlace(row.Placing!.Role, row.Placing.Site)) is { } same)
            return same.Counties.Order().SequenceEqual(row.Placing!.Counties.Order()) ? row
                : row with { Problem = PeopleWords.OtherCounties };
        places.Add(row.Placing!);
        return known?.Id == me ? row with { Problem = AccountWords.NotOneself }
            : known?.DisabledAt is not null ? row with { Problem = PeopleWords.IsDisabled }
            : row with { Change = PersonRowChange.PlaceAdded };
    }
}
