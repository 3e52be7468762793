using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Xunit;

namespace Registry.Rules.Tests.Cases;

/// <summary>docs/rules/cases.md is the case tables as a clinician reads them: dates for days, sentences for columns.</summary>
public sealed partial class PrintCasesTests
{
    private static readonly DateOnly Born = new(2026, 3, 10);

    [Fact]
    public void The_printed_cases_are_the_tables_that_run()
    {
        var page = Path.Combine(Root(), "docs/rules/cases.md");
        var printed = Print(File.ReadAllLines(Path.Combine(AppContext.BaseDirectory, "Cases", "infants.md")));
        if (Environment.GetEnvironmentVariable("REGISTRY_UPDATE_DOCS") == "1") File.WriteAllText(page, printed);
        Assert.True(File.ReadAllText(page) == printed, "docs/rules/cases.md is old: run this test with REGISTRY_UPDATE_DOCS=1.");
    }

    private static string Print(string[] lines)
    {
        var (page, count, group) = (new StringBuilder(), 0, "");
        foreach (var line in lines)
        {
            if (line.StartsWith("## ", StringComparison.Ordinal)) page.AppendLine().AppendLine(group = line).AppendLine();
            else if (line.StartsWith("Source: ", StringComparison.Ordinal) && group.Length > 0)
                page.AppendLine("*" + line + "*").AppendLine();
            else if (line.StartsWith("| ", StringComparison.Ordinal) && !line.StartsWith("| case |", StringComparison.Ordinal))
                page.AppendLine(Case(++count, line.Split('|', StringSplitOptions.TrimEntries)[1..^1]));
        }

        return $"""
            # {count} infants, and what is due

            Printed by a test from the tables it runs (`tests/Registry.Rules.Tests/Cases/infants.md`); how the answers follow is in
            [infant-status](infant-status.md). If one is wrong, please say which.

            Unless a case says otherwise the infant was born on 10 March 2026 at 08:00 in a hospital, went home on 12 March, and the default policy
            holds. Day 0 is the day of birth. A refer is not a diagnosis; a pass does not exclude later hearing loss; local rules and licensed
            practice decide. *Due* gives the last day in time of each step; *–* stands for a milestone that is not required.
            {page}
            """.ReplaceLineEndings("\n").TrimEnd() + "\n";
    }

    private static string Case(int number, string[] cells)
    {
        var born = BornWords().Match(cells[1]) is { Success: true } other
            ? DateOnly.Parse(other.Groups[1].Value, CultureInfo.InvariantCulture) : Born;
        var asked = born.AddDays(int.Parse(cells[2], CultureInfo.InvariantCulture));
        var facts = cells[1].Length == 0 ? "nothing reported" : WithDates(cells[1], FactDay(), born);
        var says = new List<string>();
        Say("screen", cells[3]);
        Say("screened / diagnosed / enrolled", cells[4]);
        Say("due", WithDates(cells[5], DueDay(), born));
        Say("lost", cells[6]);
        Say("survey lines", cells[7]);
        Say("flags", cells[8]);
        Say("changes by itself", cells[9] == "never" ? "never" : WithDates(cells[9], DueDay(), born));
        if (cells.Length > 10) Say("it says", cells[10]);
        return $"{number}. **{cells[0]}**: {facts}. On {Date(asked)} (day {cells[2]}): {string.Join("; ", says)}.";

        void Say(string what, string value)
        {
            if (value.Length > 0) says.Add($"{what} {value}");
        }
    }

    /// <summary>A day of age, with its date.</summary>
    private static string WithDates(string text, Regex days, DateOnly born) => days.Replace(text, found =>
        $"{found.Groups["before"].Value}{found.Groups["day"].Value} "
            + $"({Date(born.AddDays(int.Parse(found.Groups["day"].Value, CultureInfo.InvariantCulture)))})");

    private static string Date(DateOnly on) => on.ToString("d MMM yyyy", CultureInfo.InvariantCulture);

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(folder!.FullName, "Registry.sln"))) folder = folder.Parent;
        return folder.FullName;
    }

    [GeneratedRegex(@"born (\S+) ")]
    private static partial Regex BornWords();

    [GeneratedRegex(@"(?<before>\bday )(?<day>-?\d+)")]
    private static partial Regex FactDay();

    [GeneratedRegex(@"(?<before>^|[a-z] )(?<day>\d+)(?=$|,)")]
    private static partial Regex DueDay();
}
