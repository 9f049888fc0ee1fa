using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>What every part of the page needs, and how parts begin.</summary>
internal sealed class PageDraft(Markup markup, Account account, CancellationToken stop)
{
    public Markup Markup => markup;
    public Account Account => account;
    public CaptureHistory History => account.History;
    public CancellationToken Stop => stop;

    /// <summary>A name that turns nothing beside it around.</summary>
    public string Name(MeshAddress address) => DisplayWidth.Isolate(account.Names.Short(address));

    /// <summary>A name with its address.</summary>
    public string FullName(MeshAddress address) => DisplayWidth.Isolate(account.Names.Full(address));

    /// <summary>A part of the page with its heading; the parts are listed at its top by the same identifiers.</summary>
    public void Part(string id, string heading, Action write, string kind = "part")
    {
        stop.ThrowIfCancellationRequested();
        markup.Open("section", ("id", id), ("class", kind), ("aria-labelledby", id + "-h"));
        markup.Element("h2", heading, ("id", id + "-h"));
        write();
        markup.Close();
    }

    public void Heading(string text) => markup.Element("h3", text);

    public void Says(string text) => markup.Element("p", text);

    public void SaysQuietly(string text) => markup.Element("p", text, ("class", "quiet"));

    /// <summary>What was left out, where something was.</summary>
    public void LeftOut(int count, string what, string where)
    {
        if (count > 0)
            SaysQuietly($"{Phrases.Number(count)} {what} left out here: {where}.");
    }

    /// <summary>The words of the account, as it tells them on a terminal; says so where there are none.</summary>
    public void Words(Action<Paper, Account> section, string nothing)
    {
        var prose = new Prose(markup);
        section(prose, account);
        prose.End();
        if (prose.IsEmpty)
            Says(nothing);
    }
}
