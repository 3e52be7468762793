using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Tests.Intake.Rows;

/// <summary>The list of standard codes says things we know, each thing by one code of a system.</summary>
public sealed class StandardCodesTests
{
    [Fact]
    public void Every_meaning_is_one_of_ours()
    {
        foreach (var code in StandardCodes.All)
        {
            var known = code.Set switch
            {
                CodeSet.Outcome => Codes.TryParse<ScreeningOutcome>(code.Means, out _),
                CodeSet.Method => Codes.TryParse<ScreeningMethod>(code.Means, out _),
                CodeSet.BodySite => Codes.TryParse<Ear>(code.Means, out var ear) && ear == code.Ear,
                CodeSet.Plurality => int.TryParse(code.Means, out _),
                CodeSet.Risk => code.Means is null or "none" || Codes.TryParse<RiskIndicatorKind>(code.Means, out _),
                _ => code.Means is not null,
            };
            Assert.True(known && code.Source is 'F' or 'M' && code.Display.Length > 0, $"{code.System} {code.Code} {code.Means}");
        }
    }

    /// <summary>SNOMED CT International Edition: 25577004 right ear structure, 89644007 left ear structure.</summary>
    [Fact]
    public void The_ears_are_not_mixed_up()
    {
        Assert.Equal(Ear.Right, StandardCodes.Find(CodeSet.BodySite, CodingSystem.Snomed, "25577004")!.Ear);
        Assert.Equal(Ear.Left, StandardCodes.Find(CodeSet.BodySite, CodingSystem.Snomed, "89644007")!.Ear);
        Assert.All(StandardCodes.All.Where(c => c.Display.EndsWith("- right", StringComparison.Ordinal)), c =>
            Assert.Equal(Ear.Right, c.Ear));
        Assert.All(StandardCodes.All.Where(c => c.Display.EndsWith("- left", StringComparison.Ordinal)), c =>
            Assert.Equal(Ear.Left, c.Ear));
        Assert.Null(StandardCodes.Find(CodeSet.Observation, CodingSystem.Snomed, "54109-4"));
    }

    /// <summary>
    /// Every code with what its published source says it is, so that two of them cannot change places. Sources: LOINC terms by their long
    /// common names (as the code pages of healthassure.in reproduce them, 21 May 2026: 54109-4, 54108-6, 54106-0, 58232-0, 73739-5 to
    /// 73742-9, 73744-5); results: National Library of Medicine, Newborn Screening Coding and Terminology Guide, measurement Hear-L (LOINC
    /// answers beside SNOMED CT); methods: the value set of the hearing-screening outcome in HL7 and IHE templates; medical reasons: CMS
    /// measure 31; diagnostic audiology (98418-7 and its members, thresholds of 89015-2): the value sets of HL7 PACIO Personal
    /// Functioning and Engagement 2.0.0 and the code systems of its hearing part;
    /// body sites: SNOMED CT International Edition; the other birth terms and plurality answers: LOINC names. From memory, and marked M
    /// in the file until somebody verifies them: 73743-7 and the answers of 58232-0.
    /// </summary>
    [Fact]
    public void Every_code_is_what_its_source_says()
    {
        const string Published =
            """
            observation loinc: 54111-0 panel, 73744-5 panel right, 73741-1 panel left, 54109-4 result right, 54108-6 result left, 54106-0 method, 73740-3 duration left, 73742-9 reason right, 73739-5 reason left, 58232-0 risk, 57700-7 comment, 57722-1 plurality, 8339-4 birth_weight, 57714-8 gestation, 57723-9 card, 62324-9 provider, 73812-0 nicu, 98418-7 audiology, 98426-0 finding right, 98421-1 finding left, 98427-8 degree right, 98422-9 degree left, 98482-3 abr_click right, 98481-5 abr_click left, 91374-9 threshold_250 right, 91375-6 threshold_250 left, 89025-1 threshold_500 right, 89024-4 threshold_500 left, 91378-0 threshold_750 right, 91379-8 threshold_750 left, 89017-8 threshold_1000 right, 89016-0 threshold_1000 left, 91372-3 threshold_1500 right, 91373-1 threshold_1500 left, 89019-4 threshold_2000 right, 89018-6 threshold_2000 left, 89021-0 threshold_3000 right, 89020-2 threshold_3000 left, 89023-6 threshold_4000 right, 89022-8 threshold_4000 left, 89027-7 threshold_6000 right, 89026-9 threshold_6000 left, 89029-3 threshold_8000 right, 89028-5 threshold_8000 left
            outcome loinc: LA10392-1 pass, LA10393-9 refer, LA12408-3 no_valid_result, LA7304-4 not_performed, LA6644-4 not_performed declined, LA12409-1 not_performed medical_exclusion
            outcome snomed: 164059009 pass, 183924009 refer, 103709008 no_valid_result, 262008008 not_performed, 183948000 not_performed declined, 410534003 not_performed medical_exclusion, 397745006 not_performed medical_exclusion, 397773008 not_performed medical_exclusion
            method loinc: LA10387-1 aabr, LA10388-9 abr, LA10389-7 oae, LA10390-5 dpoae, LA10391-3 teoae, LA12406-7 unknown
            body_site snomed: 25577004 right right, 89644007 left left
            plurality loinc: LA12411-7 1, LA12412-5 2, LA12413-3 3
            """;
        const string FromMemory =
            """
            observation loinc: 73743-7 duration right
            risk loinc: LA137-2 none, LA12667-4 caregiver_concern, LA6172-6 family_history, LA12668-2 nicu_over_five_days, LA12669-0 ecmo, LA12670-8, LA12671-6 ototoxic_medication, LA12672-4, LA12673-2 exchange_transfusion, LA12674-0 in_utero_infection, LA12675-7 craniofacial, LA12681-5 physical_findings, LA12676-5 syndrome, LA12677-3 neurodegenerative_disorder, LA12678-1 meningitis, LA12679-9 head_trauma_or_chemotherapy
            """;
        Assert.Equal(Listed(Published), Stated('F'));
        Assert.Equal(Listed(FromMemory), Stated('M'));

        static List<string> Stated(char source) =>
            [.. StandardCodes.All.Where(c => c.Source == source).Select(c => string.Join(' ', new[]
            {
                Codes.Of(c.Set), Codes.Of(c.System), c.Code, c.Means, c.Ear is { } ear ? Codes.Of(ear) : null, c.Reason is { } reason
                    ? Codes.Of(reason) : null,
            }.Where(p => p is not null))).Order(StringComparer.Ordinal)];

        static List<string> Listed(string text) =>
            [.. text.Split('\n').Select(l => l.Split(": ")).SelectMany(l => l[1].Split(", ").Select(code => $"{l[0]} {code}"))
                .Order(StringComparer.Ordinal)];
    }

    /// <summary>Names by which a person finds the code again in LOINC: where they were looked up.</summary>
    [Theory]
    [InlineData("54109-4", "Newborn hearing screen of Ear - right")]
    [InlineData("54108-6", "Newborn hearing screen of Ear - left")]
    [InlineData("54106-0", "Newborn hearing screen method")]
    [InlineData("58232-0", "Hearing loss risk indicators [Identifier]")]
    [InlineData("73744-5", "Newborn hearing screen panel of Ear - right")]
    [InlineData("73741-1", "Newborn hearing screen panel of Ear - left")]
    [InlineData("73740-3", "Screening duration of Ear - left")]
    [InlineData("73742-9", "Newborn hearing screen reason not performed of Ear - right")]
    [InlineData("73739-5", "Newborn hearing screen reason not performed of Ear - left")]
    public void Names_are_the_published_ones(string code, string name) =>
        Assert.Equal(name, StandardCodes.Find(CodeSet.Observation, CodingSystem.Loinc, code)!.Display);
}
