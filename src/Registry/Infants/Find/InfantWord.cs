using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Infants.Find;

/// <summary>A word of the names in an infant's current birth, its mother's or its own, as it is searched for: once for each site that sees
/// the infant, so that a site, and a county, reads its own by the index.</summary>
/// <remarks>Kept beside the births and <see cref="Access.InfantSite"/> by triggers (Records/SearchWords.sql, SearchBySite.sql); the
/// program's logins only read it, beneath row security.</remarks>
public sealed class InfantWord
{
    /// <summary>Who sees it.</summary>
    public SiteId SiteId { get; init; }

    /// <summary>The key of the infant's county, by which case workers see it.</summary>
    public string? CountyKey { get; init; }
    public InfantId InfantId { get; init; }
    public required string Word { get; init; }

    /// <summary>The birth's: the youngest are shown first without looking at births.</summary>
    public DateOnly BornOn { get; init; }
}

/// <summary>A word somebody's name has, and what it may be mistaken for. It says of nobody that they have it.</summary>
public sealed class SearchWord
{
    public required string Word { get; init; }

    /// <summary>How it sounds in English (double metaphone); null where that says too little.</summary>
    public string? Sound { get; init; }

    /// <summary>The word, and what is left of it when one letter is taken out.</summary>
    public required string[] Variants { get; init; }
}

internal sealed class ConfigureInfantWord : IEntityTypeConfiguration<InfantWord>
{
    public void Configure(EntityTypeBuilder<InfantWord> builder)
    {
        builder.ToTable("infant_words");
        builder.HasKey(w => new { w.InfantId, w.SiteId, w.Word });
        builder.HasIndex(w => new { w.Word, w.BornOn, w.InfantId, w.SiteId }).IncludeProperties(w => w.CountyKey);
    }
}

internal sealed class ConfigureSearchWord : IEntityTypeConfiguration<SearchWord>
{
    public void Configure(EntityTypeBuilder<SearchWord> builder)
    {
        builder.ToTable("search_words");
        builder.HasKey(w => w.Word);
        // In the order of its characters: the beginning of a word is a range of it.
        builder.Property(w => w.Word).UseCollation("C");
        builder.HasIndex(w => w.Sound).HasFilter("sound is not null");
    }
}
