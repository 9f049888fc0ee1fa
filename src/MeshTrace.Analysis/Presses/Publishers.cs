using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Presses;

/// <summary>Elements whose servers publish their state: by the description, or seen doing it.</summary>
internal sealed class Publishers
{
    private readonly HashSet<ushort> _seen = [];
    private readonly NetworkDescription? _description;

    public Publishers(CaptureHistory history, NetworkDescription? description)
    {
        _description = description;
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.IsControl && message.Decrypted && !message.Dst.IsUnicast && RequestKind.StatusOpcodes.Contains(message.Opcode.Value))
                _seen.Add(message.Src.Value);
        }
    }

    public bool Publishes(MeshAddress element)
    {
        if (_seen.Contains(element.Value))
            return true;
        if (_description?.ElementAt(element) is not { } described)
            return false;
        foreach (DescribedModel model in described.Models)
            if (model.CompanyId is null && model.ModelId >= FirstModelOfLighting && model.Publish is not null)
                return true;
        return false;
    }

    /// <summary>Below it stand the foundation models (configuration, health …), whose publications do not answer a press.</summary>
    private const ushort FirstModelOfLighting = 0x1000;
}
