namespace MeshTrace.Reports.Page;

/// <summary>What whoever reads the page must know before acting on it.</summary>
internal static class CautionPart
{
    /// <summary>The cautions of the README, as far as they concern a page.</summary>
    internal static IReadOnlyList<string> All { get; } =
    [
        "Captured keys and exported descriptions are secrets: who has them can switch the lamps. This page holds no key, but it names nodes, groups and files: give it only to those who may know them.",
        "Recording radio traffic may need the owner's consent and is regulated locally. Ask before you record.",
        "Mains wiring and emergency lighting are for licensed people and local codes. Do not change them on the word of this page.",
        "Findings are evidence from what a receiver heard at one place. They are not a safety certification.",
    ];

    public static void Write(PageDraft draft)
    {
        draft.Markup.Open("ul");
        foreach (string caution in All)
            draft.Markup.Element("li", caution);
        draft.Markup.Close();
    }
}
