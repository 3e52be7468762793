using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Outreach;

/// <summary>Letters go to the address of the mother that was said last, while the consent of the birth holds.</summary>
public sealed class NewestAddressTests(TestDatabase database)
{
    private const string Births = "kind,record_number,birth_date,sex,contact_email,email_consent\n";
    private const string Family = "kind,record_number,relation,contact_email,stated_on,may_be_told,holds_custody\n";

    [Theory]
    [InlineData("mother,New@family.example,2026-11-01,,", "New@family.example")]
    [InlineData("mother,new@family.example,,,", "new@family.example")]
    [InlineData("mother,new@family.example,2026-11-02,,\nfamily_contact,A,mother,older@family.example,2026-11-01,,", "new@family.example")]
    [InlineData("mother,first@family.example,2026-11-01,,\nfamily_contact,A,mother,last@family.example,2026-11-01,,", "last@family.example")]
    [InlineData("mother,new@family.example,2026-11-01,,\nfamily_contact,A,mother,,2026-11-02,yes,", "new@family.example")]
    [InlineData("father,father@family.example,2026-11-01,,", "birth@family.example")] // nobody else is written to
    [InlineData("guardian,guardian@family.example,2026-11-01,yes,yes", null)]
    [InlineData("mother,new@family.example,2026-11-01,no,", null)]
    public async Task The_address_said_last_of_the_mother(string said, string? to)
    {
        await using var bed = await RemindersTests.StartAsync(database);
        await bed.SendAsync(Births + "birth,A,2026-10-20,female,birth@family.example,true\n");
        await RemindersTests.QueueAsync(bed); // what is queued already goes there too
        Assert.All(await bed.OutcomesAsync(await bed.SendAsync($"{Family}family_contact,A,{said}\n")), o => Assert.Equal("accepted", o));
        await RemindersTests.SendAsync(bed);
        Assert.Equal(to is null ? [] : [to], RemindersTests.Letters(bed).Select(l => l.To.Mailboxes.Single().Address));

        // The record says where letters go.
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await coordinator.GetStringAsync($"/infants/{(await bed.ListAsync("select id from infants"))[0]}", IntakeBed.Ct);
        Assert.Contains(to is null ? "none: who is written to may not be told" : $"to {to}, as agreed", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Consent_that_was_never_given_or_was_withdrawn_covers_no_address()
    {
        await using var bed = await RemindersTests.StartAsync(database);
        await bed.SendAsync(Births + "birth,A,2026-10-20,female,a@family.example,true\nbirth,B,2026-10-20,male,b@family.example,false\n"
            + "birth,C,2026-10-21,male,,true\n");
        await bed.SendAsync(Family + "family_contact,A,mother,a2@family.example,,,\nfamily_contact,B,mother,b2@family.example,,,\n"
            + "family_contact,C,mother,c2@family.example,,,\n");
        Assert.Equal("2 reminders queued, 0 withdrawn", await RemindersTests.QueueAsync(bed));
        await bed.SendAsync(Births + "birth,A,2026-10-20,female,a@family.example,false\n", at: bed.Now.AddMinutes(1));
        Assert.StartsWith("1 reminders", await RemindersTests.SendAsync(bed), StringComparison.Ordinal);
        Assert.Equal("c2@family.example", Assert.Single(RemindersTests.Letters(bed)).To.Mailboxes.Single().Address);
        Assert.Equal("0 reminders queued, 1 withdrawn", await RemindersTests.QueueAsync(bed));
    }

    [Fact]
    public async Task An_address_that_is_taken_back_is_not_written_to_and_two_infants_of_one_address_get_one_letter()
    {
        await using var bed = await RemindersTests.StartAsync(database);
        await bed.SendAsync(Births + "birth,A,2026-10-20,female,a@family.example,true\nbirth,B,2026-10-20,male,b@family.example,true\n");
        var said = Family + "family_contact,A,mother,both@family.example,,,\nfamily_contact,B,mother,Both@family.example,,,\n";
        await bed.SendAsync(said);
        Assert.Equal("1 reminders queued, 0 withdrawn", await RemindersTests.QueueAsync(bed));
        Assert.Equal("0 reminders queued, 0 withdrawn", await RemindersTests.QueueAsync(bed));
        await bed.SendAsync(said.Replace("kind,", "action,kind,", StringComparison.Ordinal)
            .Replace("\nfamily_contact", "\nretract,family_contact", StringComparison.Ordinal), at: bed.Now.AddMinutes(1));
        Assert.Equal(0, await bed.CountAsync("family_contacts where superseded_at is null"));
        await RemindersTests.SendAsync(bed);
        await RemindersTests.QueueAsync(bed);
        await RemindersTests.SendAsync(bed);
        Assert.Equal(["a@family.example", "b@family.example"],
            RemindersTests.Letters(bed).Select(l => l.To.Mailboxes.Single().Address).Order(StringComparer.Ordinal));
    }
}
