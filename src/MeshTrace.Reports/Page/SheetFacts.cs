using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Reports.Page;

/// <summary>A model that publishes somewhere.</summary>
internal sealed record SheetPublication(ModelInstance Model, PublicationState State, KnownFrom From)
{
    /// <summary>Messages heard from its element to that address.</summary>
    public int Heard { get; set; }
}

/// <summary>An address that nodes listen to or publish to.</summary>
internal sealed class SheetGroup(MeshAddress address)
{
    public MeshAddress Address => address;

    /// <summary>Elements with a model that subscribes to it.</summary>
    public SortedSet<MeshAddress> Listeners { get; } = [];

    /// <summary>Presses heard that asked it for an answer.</summary>
    public int Asked { get; set; }

    /// <summary>Presses that no answer was asked for.</summary>
    public int NotAsked { get; set; }

    /// <summary>How many of them each element answered.</summary>
    public Dictionary<MeshAddress, int> Answered { get; } = [];
}

/// <summary>What the commissioning sheet tells: the last known configuration, and what of it was seen to work.</summary>
internal sealed class SheetFacts
{
    private const int MostPublications = 20_000;

    private SheetFacts(CaptureHistory history)
    {
        States = [.. (history.NodeModels?.All ?? []).Select(model => model.At(long.MaxValue))];
        Dictionary<MeshAddress, SheetGroup> groups = [];
        foreach (DescribedGroup group in history.Directory.Description?.Groups ?? [])
            GroupAt(group.Address.Address);
        foreach (NodeState state in States)
        {
            foreach (ModelInstance model in state.Models.Members)
                foreach (MeshAddress address in state.SubscriptionsOf(model).Members)
                    GroupAt(address).Listeners.Add(model.Element);
            foreach ((ModelInstance model, Known<PublicationState> publication) in state.Publications)
                if (Publications.Count < MostPublications)
                    Publications.Add(new SheetPublication(model, publication.Value!, publication.From));
        }
        foreach (SheetPublication publication in Publications)
            if (!publication.State.Address.Address.IsUnicast)
                GroupAt(publication.State.Address.Address);
        CountMessages(history);
        CountAnswers(history, groups);
        Groups = [.. groups.Values.OrderBy(group => group.Address)];

        SheetGroup GroupAt(MeshAddress address)
        {
            if (!groups.TryGetValue(address, out SheetGroup? group))
                groups.Add(address, group = new SheetGroup(address));
            return group;
        }
    }

    /// <summary>The last known configuration of every node, lowest address first.</summary>
    public IReadOnlyList<NodeState> States { get; }
    public List<SheetPublication> Publications { get; } = [];
    public IReadOnlyList<SheetGroup> Groups { get; }

    public static SheetFacts Of(CaptureHistory history) => new(history);

    /// <summary>A message counts for the models of its element that speak its family: an On/Off message proves nothing of a Lightness model.</summary>
    private void CountMessages(CaptureHistory history)
    {
        ILookup<(ushort, ushort), SheetPublication> ways = Publications.ToLookup(one => (one.Model.Element.Value, one.State.Address.Address.Value));
        for (int row = 0; row < history.Messages.Count && ways.Count > 0; row++)
        {
            ref readonly MessageRow message = ref history.Messages[row];
            if (message.IsControl || !message.Decrypted)
                continue;
            foreach (SheetPublication publication in ways[(message.Src.Value, message.Dst.Value)])
                if (Speaks(publication.Model.Model, message.Opcode))
                    publication.Heard++;
        }
    }

    private static bool Speaks(ModelNumber model, Opcode opcode) => model.Company is { } company ? opcode.Company == company
        : ModelCatalogue.Find(model.Number) is { } definition && AccessCatalogue.Find(opcode)?.Group == definition.Group;

    private static void CountAnswers(CaptureHistory history, Dictionary<MeshAddress, SheetGroup> groups)
    {
        foreach (Press press in history.Presses)
        {
            if (!groups.TryGetValue(press.Dst, out SheetGroup? group))
                continue;
            if (press.Acknowledged)
                group.Asked++;
            else
                group.NotAsked++;
            foreach (MeshAddress element in press.Answers.Select(answer => answer.Element).Distinct())
                group.Answered[element] = group.Answered.GetValueOrDefault(element) + 1;
        }
    }
}
