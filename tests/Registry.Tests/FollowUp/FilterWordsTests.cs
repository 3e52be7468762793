using Registry.FollowUp;
using Registry.Infants.List;
using Registry.Platform;
using Registry.Rules.Work;

namespace Registry.Tests.FollowUp;

/// <summary>A saved filter is told by the names of sites and languages, however it is kept; and a language is found however it was
/// stated.</summary>
public sealed class FilterWordsTests(TestDatabase database)
{
    private static readonly Dictionary<string, string> Sites = new() { ["hill"] = "Hill Audiology" };

    [Fact]
    public void Filters_are_told_by_names()
    {
        Assert.Equal("Call today · Hill Audiology · the family speaks Spanish",
            WorkWords.Of(new WorkFilter { Tray = WorkTray.CallToday, Site = "hill", Language = "es" }, Sites));
        Assert.Equal("born at Hill Audiology · responsible: a site that is not known",
            InfantFilterWords.Shown(new() { Site = "hill", Responsible = "gone" }, Sites));
    }

    [Fact]
    public void A_language_is_chosen_by_its_name()
    {
        Assert.Equal(["es"], WorkWords.Languages("spa").Where(l => l.Selected).Select(l => l.Value));
        Assert.Equal("Spanish", WorkWords.Languages(null).Single(l => l.Value == "es").Text);
        Assert.Equal(["hands"], WorkWords.Languages("hands").Where(l => l.Selected).Select(l => l.Text));
        Assert.Equal(["castilian", "es", "spa", "spanish"], Languages.SpellingsOf("Spanish").Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task A_language_is_found_however_it_was_stated()
    {
        await using var bed = await WorkBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name,language\n"
            + "birth,L-1,2026-10-10,female,Sol,da\nbirth,L-2,2026-10-10,female,Luz,Danish\nbirth,L-3,2026-10-10,female,Mar,DAN\n"
            + "birth,L-4,2026-10-10,female,Low,de\n");
        using var client = await SignedIn.AsAsync(bed, Registry.Records.Role.Coordinator, null);
        Assert.Equal(["Luz", "Mar", "Sol"],
            (await WorkBed.ShownAsync(client, "?tray=call_today&language=da")).Order(StringComparer.Ordinal));
    }
}
